// Package outlook is what the plants of a site need over some days beside what
// is planned for them: worked out from its file, the weather on record and, where
// there is one, the record of its floods and its diary. It knows no running
// program, so that a command without one and the page of one say the same.
package outlook
