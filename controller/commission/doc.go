// Package commission is the guided check of a site's wiring, the calibration of
// its benches and the proof test of their switches: a dialogue with a person
// beside the bench, in steps.
//
// The dialogue is carried on between the turns of the very loop that keeps the
// bench later, so every interlock is in force from its first turn, a person may
// take as long as they like, and the program that dies has its outputs put off
// as ever. First, under hands-in and with the pumps unplugged, each relay
// clicks and each switch is moved, opened and bridged; then, attended, the pump
// runs while a key is held down, three floods are timed, and the overflow
// stands the longest hold. Then the faults that the bench has to stand are brought
// about by hand, and the interlock that each is for has to stop the pump. It can
// be stopped at any question: everything goes off, and the next time it goes on
// at the same step.
//
// Where the step is about the end of the program itself, by a restart, a kill or
// a power cut, what is awaited goes on record before, and the program that comes
// after takes it up: another boot shows a restart, a record without an orderly
// end a cut. What takes long may be left out; it is on record as left out, never
// as passed, until it is done.
//
// The package keeps nothing itself. What was found goes to a Record, with the
// fingerprint of the wiring it was found on; Judge says what such a record is
// worth for a site's present file: whether it may flood unattended, by which
// measured figures, and which proof tests are overdue.
//
// At a simulated board Hands do what is asked of the person, so that the whole
// way can be gone in virtual time with the answers of a Script.
package commission
