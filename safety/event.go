package safety

import "time"

// EventKind says what happened in the guard.
type EventKind uint8

// The kinds of guard events.
const (
	Tripped       EventKind = iota // an interlock stopped a run or opened an enable relay
	LatchedEvent                   // a trip now waits for a person
	ResetEvent                     // a person reset a latched trip
	SwitchChanged                  // a filtered switch changed
	ProofTested                    // a switch changed as part of a proof test
	WeldProven                     // a welded pump contact was proven with the enable relay
	RetryAllowed                   // the water of a failed fill came home
)

// Event is one thing that happened in the guard, as data.
type Event struct {
	Kind      EventKind
	At        time.Duration
	Bench     int // -1 for the site
	Interlock Interlock
	Latched   bool
	Switch    string // "full", "high", "empty", "leak", "low", "hands_in" for switch events
	Level     Level  // for switch events
	Detail    string // in words, for a person
}
