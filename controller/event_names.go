package controller

import (
	"strings"

	"benchtide/safety"
)

// eventNames are what people call the kinds of events.
var eventNames = [...]string{
	FloodIntended: "flood intended", PumpStarted: "pump started", FullMade: "full made", PumpStopped: "pump stopped",
	FloodRetry: "flood retry", FloodEnded: "flood ended", FloodRefused: "flood refused",
	GuardActed: "guard", MessageSent: "message",
	PauseBegan: "pause began", PauseEnded: "pause ended", HandsInBegan: "hands-in began", HandsInEnded: "hands-in ended",
	PlanChanged: "plan changed", ClockStepped: "clock stepped", OutputChanged: "output",
	SanitisingBegan: "sanitising began", SanitisingEnded: "sanitising ended", StageBegan: "stage began", BatchClosed: "batch closed",
	ReservoirWeighed: "weighed", WaterLost: "water lost", WaterBooked: "water booked",
}

// String is what people call the kind.
func (k EventKind) String() string { return eventNames[k] }

// Key is the kind's name for programs, one word.
func (k EventKind) Key() string { return strings.ReplaceAll(eventNames[k], " ", "-") }

// guardActs are the keys of the guard's events.
var guardActs = [...]string{
	safety.Tripped: "tripped", safety.LatchedEvent: "latched", safety.ResetEvent: "reset", safety.SwitchChanged: "switch",
	safety.ProofTested: "proof-tested", safety.WeldProven: "weld-proven", safety.RetryAllowed: "retry-allowed", safety.Dropped: "dropped",
}

// GuardAct is the name of a guard's event for programs, one word.
func GuardAct(k safety.EventKind) string { return guardActs[k] }

// Because joins what there is of a name and its detail.
func Because(name, detail string) string {
	switch {
	case name == "":
		return detail
	case detail == "":
		return name
	}
	return name + ": " + detail
}
