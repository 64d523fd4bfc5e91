package controller

import (
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// Outcome is how a flood ended. Every flood ends in exactly one.
type Outcome string

// The outcomes. Function outcomeOf says which one applies.
const (
	Proven      Outcome = "proven"      // FULL stood for the hold and the water went in time
	Short       Outcome = "short"       // FULL was made but the hold was incomplete
	Unproven    Outcome = "unproven"    // FULL was never made, or the water was not gone in time
	Interrupted Outcome = "interrupted" // power, program, a person or a trip ended it
	Skipped     Outcome = "skipped"     // the pump never ran: a person left it out
	Refused     Outcome = "refused"     // the pump never ran: a permissive, trip, pause or hands-in said no
	Missed      Outcome = "missed"      // the pump never ran: program or power off, or the queue deadline passed
)

// Outcomes lists every outcome, best first.
var Outcomes = []Outcome{Proven, Short, Unproven, Interrupted, Skipped, Refused, Missed}

// Cause is why a flood was due.
type Cause string

// The causes of a flood.
const (
	BySchedule Cause = "schedule"
	ByCatchUp  Cause = "catch-up" // after an outage or a release, since the crop could not wait for the next slot
	ByHand     Cause = "hand"
	ByElapsed  Cause = "elapsed" // the clock is not trusted: at the stage's rate by elapsed time
)

// Flood is one row of the ledger: one planned flood from its intention to its
// outcome. A retry reuses the row.
type Flood struct {
	ID      int64          `json:",omitzero"`
	Bench   int            `json:",omitzero"`
	HasSlot bool           `json:",omitzero"`
	Slot    schedule.Civil `json:",omitzero"` // identity of the slot when HasSlot
	Due     time.Time      `json:",omitzero"`
	Cause   Cause          `json:",omitzero"`
	Attempt int            `json:",omitzero"` // 0 for the first run, 1 for the retry

	Hold     time.Duration `json:",omitzero"` // asked for
	Strength float64       `json:",omitzero"` // of full strength, as the stage asks

	Intended bool      `json:",omitzero"` // its intention went to storage: the pump may have started since
	Started  time.Time `json:",omitzero"` // when the pump first started; zero while it never ran
	Ended    time.Time `json:",omitzero"` // when the water was gone or the bench latched; zero while under way
	Outcome  Outcome   `json:",omitzero"` // empty while under way
	Reason   string    `json:",omitzero"` // why, in the guard's fixed names and a few words

	Fill   time.Duration `json:",omitzero"` // pump start to FULL made; 0 when it was not
	Stood  time.Duration `json:",omitzero"` // how long FULL stood with the pump running
	Fall   time.Duration `json:",omitzero"` // pump stop to FULL clear; 0 when unknown
	Run    time.Duration `json:",omitzero"` // pump time, all attempts
	Litres safety.Litres `json:",omitzero"` // pumped until FULL at the sheet's flow, all attempts; see Pumped

	Counted    bool `json:",omitzero"` // it restarted the crop clock
	Unrecorded bool `json:",omitzero"` // the pump started before storage acknowledged the intention
	Watched    bool `json:",omitzero"` // the first flood after a reset or after rinsing
}

// Pumped is what the pump moved in all its run, by the flow of Litres: while FULL
// stands, most of it runs home over the standpipe.
func (f *Flood) Pumped() safety.Litres {
	until := f.Fill
	if f.Attempt > 0 { // the one before made no FULL
		until = f.Run - f.Stood
	}
	if f.Fill == 0 || until <= 0 || f.Run < until {
		return f.Litres
	}
	return f.Litres * safety.Litres(f.Run.Seconds()/until.Seconds())
}

// NeverRan reports whether an outcome says that the pump did not run.
func (o Outcome) NeverRan() bool { return o == Skipped || o == Refused || o == Missed }

// OnRecord is the outcome of a row as it is called now: records hold floods that
// a person left out as refused by hand.
func OnRecord(o Outcome, reason string) Outcome {
	if o == Refused && (reason == skippedByHand || reason == stoppedBefore) {
		return Skipped
	}
	return o
}

// Open reports whether the flood has no outcome yet.
func (f *Flood) Open() bool { return f.Outcome == "" }
