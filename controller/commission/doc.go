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
// stands the longest hold. It can be stopped at any question: everything goes
// off, and the next time it goes on at the same step.
//
// The package keeps nothing itself. What was found goes to a Record, with the
// fingerprint of the wiring it was found on; Judge says what such a record is
// worth for a site's present file: whether it may flood unattended, by which
// measured figures, and which proof tests are overdue.
//
// At a simulated board Hands do what is asked of the person, so that the whole
// way can be gone in virtual time with the answers of a Script.
package commission
