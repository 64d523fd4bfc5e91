package live

import (
	"benchtide/controller"
	"benchtide/controller/texts"
	"benchtide/safety"
)

// Said is a trip within a sentence about its bench: "water too high (the HIGH
// switch shows water)".
func (t *LatchedTrip) Said(called texts.Titles, bench string) string {
	return controller.Phrase(called, safety.Interlock(t.Interlock), t.Detail, bench)
}

// Said is a refusal within a sentence about its bench.
func (r *Refusal) Said(called texts.Titles, bench string) string {
	return controller.Phrase(called, safety.Interlock(r.Interlock), r.Detail, bench)
}

// Ended says how a flood ended, as the rest of a sentence about it.
func Ended(called texts.Titles, r *controller.Row) string {
	return controller.Ends(called, r.Outcome, r.Reason, r.Bench)
}
