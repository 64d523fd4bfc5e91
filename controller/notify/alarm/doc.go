// Package alarm decides who is told what, and when. It is pure: messages,
// snapshots of the site and the acts of people go in with the time; notices to
// be delivered come out as data.
//
// Messages about one cause on one bench are one alarm. Its states are those of
// ANSI/ISA-18.2 (IEC 62682): unacknowledged while it stands and nobody has said
// that he knows, acknowledged, returned when the cause went away before anybody
// did, shelved by a person until an end, out of service while somebody works
// on it, normal when it is over. Acknowledging silences and resets nothing.
//
// There are three urgencies. "Now" is sent at once, is repeated, and goes to a
// second person, until somebody acknowledges it. "Today" is sent once, outside
// the quiet hours. "This week" waits for the digest, which is sent each week
// even when nothing happened, so that its absence says something.
//
// Durations and limits use the boot-time clock. Quiet hours and the digest
// follow the calendar, so only a clock that is trusted: without one nothing is
// held back, and the digest waits.
package alarm
