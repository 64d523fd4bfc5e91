package controller

import (
	"time"

	"benchtide/safety"
)

// ending is all that decides the outcome of a flood whose pump ran.
type ending struct {
	full    bool          // the bench has FULL
	person  string        // who or what ended it: a person, or the program; empty when nobody did
	trip    safety.Trip   // the trip that ended the run with the pump on; zero without one
	fullAt  time.Duration // when FULL was made; 0 when never
	stood   time.Duration // how long FULL stood with the pump running
	hold    time.Duration // asked for
	fill    time.Duration // T_fill
	ran     time.Duration // how long the pump ran
	late    bool          // the water was not gone in time
	latched safety.Trip   // the trip that latched the bench during the drain; zero without one
}

// shortBy is how much FULL may stand short of the hold before the flood
// counts as short: the flicker of waves at the switch, well below the
// filter's break delay.
const shortBy = time.Second

// outcomeOf returns the first outcome that matches, in the order fixed for the
// ledger, and the reason in words. It is for floods whose pump ran.
func outcomeOf(e ending) (Outcome, string) {
	switch {
	case e.person != "":
		return Interrupted, e.person
	case e.fullAt == 0:
		return Unproven, reasonWithoutFull(e)
	case e.trip.Interlock != "" && !e.drawnDown():
		return Interrupted, reasonOf(e.trip)
	case e.stood < e.hold-shortBy:
		return Short, shortReason(e)
	case e.latched.Interlock != "":
		return Unproven, reasonOf(e.latched)
	case e.late:
		return Unproven, "the water was not gone in time"
	}
	return Proven, ""
}

// drawnDown reports whether the pump was stopped because the litres counted
// reached what the reservoir keeps. After FULL that ends the hold early, no more.
func (e ending) drawnDown() bool { return e.trip.Interlock == safety.ReservoirLow }

func shortReason(e ending) string {
	stood := "FULL stood for " + safety.Spell(e.stood) + " of " + safety.Spell(e.hold)
	if e.drawnDown() {
		return stood + "; " + reasonOf(e.trip)
	}
	return stood
}

func reasonWithoutFull(e ending) string {
	switch {
	case e.trip.Interlock != "":
		return reasonOf(e.trip)
	case !e.full:
		return "timed: no FULL switch to prove it"
	}
	return "FULL was never made"
}

func reasonOf(t safety.Trip) string { return reason(t.Interlock, t.Detail) }

// reason is an interlock by its fixed name, and what it says of this time.
func reason(i safety.Interlock, detail string) string {
	if detail == "" {
		return string(i)
	}
	return string(i) + ": " + detail
}

// counts reports whether the flood restarts the crop clock: FULL stood for at
// least half the hold, or on a bench without FULL the timed flood completed: all
// of it, or as much of its hold as the reservoir was known to have water for.
func counts(e ending) bool {
	if e.full {
		return e.fullAt != 0 && e.stood >= e.hold/2
	}
	if e.person != "" {
		return false
	}
	return e.trip.Interlock == "" || e.drawnDown() && e.ran >= e.fill+e.hold/2
}
