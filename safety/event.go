package safety

import "time"

// EventKind says what happened in the guard.
type EventKind uint8

// The kinds of guard events. Each time an interlock acts there is exactly one
// Tripped; it may be latched in the same turn or later, by a LatchedEvent.
const (
	Tripped       EventKind = iota // an interlock stopped a run, opened an enable relay or, idle, found something wrong
	LatchedEvent                   // a trip now waits for a person
	ResetEvent                     // a person reset the latched trips of a bench
	SwitchChanged                  // a filtered switch changed, or hands-in was given or ended
	ProofTested                    // a switch changed as part of a proof test
	WeldProven                     // a welded pump contact was proven with the enable relay
	RetryAllowed                   // the water of a failed fill came home
	Dropped                        // a person had a bench forgotten that left the file; Left names it
)

// Event is one thing that happened in the guard, as data.
type Event struct {
	Kind      EventKind
	At        time.Duration // boot-time clock
	Bench     int           // -1 for the site, a reservoir or a bench that left the file
	Left      string        // the name of a bench that left the file, for Dropped
	Reservoir int           // index in Limits.Reservoirs; read for the switches "low" and "level" only
	Interlock Interlock
	Latched   bool
	Switch    string // "full", "high", "empty", "leak", "low", "level", "hands_in" for switch events
	Level     Level  // for switch events
	Detail    string // in words, for a person; what was found, for a reset
}
