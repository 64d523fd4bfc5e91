package schedule

import "time"

// ConflictKind says what batches that share a bench disagree about.
type ConflictKind uint8

// The kinds of conflict.
const (
	StrengthConflict ConflictKind = iota // some get a weaker solution than their stage asks
	HoldConflict                         // some get a shorter hold than their stage asks
	GapConflict                          // some batch waits longer than it can
)

// Conflict is one thing that the calendar of a bench does not give its
// batches, over consecutive dates.
type Conflict struct {
	Kind     ConflictKind
	Bench    int
	Batches  []int // those concerned, indices in Setup.Batches
	From, To Date  // both inclusive

	// Of a GapConflict: the longest wait in these dates and what the batch stands.
	Gap, CanWait time.Duration

	Detail string // in words, for a person
}

// Conflicts returns what batches go without from from to to, both inclusive,
// in order of bench and date.
func (c *Calendar) Conflicts(from, to Date) []Conflict {
	return nil
}
