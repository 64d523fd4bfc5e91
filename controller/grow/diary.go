package grow

import (
	"slices"
	"time"

	"benchtide/controller/quantity"
)

// EntryKind is what a diary entry is about.
type EntryKind string

// The kinds of entries that are worked with, each with what its value is.
const (
	TopUp          EntryKind = "top-up"          // L added
	TakenOut       EntryKind = "taken-out"       // L
	SolutionChange EntryKind = "solution-change" // L of the new one; may be 0 where not written down
	EC             EntryKind = "ec"              // mS/cm
	PH             EntryKind = "ph"
	Temperature    EntryKind = "temperature" // °C of the solution
	Moisture       EntryKind = "moisture"    // 1 bone dry to 5 shining wet
	Cleaning       EntryKind = "cleaning"

	// Pots of a batch.
	Sown         EntryKind = "sown"
	Germinated   EntryKind = "germinated"
	Resown       EntryKind = "resown"
	Thinned      EntryKind = "thinned"
	Transplanted EntryKind = "transplanted"
	Lost         EntryKind = "lost"
	MovedOut     EntryKind = "moved-out"
)

// Entry is one line of a diary, about one reservoir or one batch.
type Entry struct {
	At    time.Time
	Kind  EntryKind
	Value float64
}

// inOrder is the entries of these kinds by time.
func inOrder(entries []Entry, kinds ...EntryKind) (some []Entry) {
	for _, e := range entries {
		if slices.Contains(kinds, e.Kind) {
			some = append(some, e)
		}
	}
	slices.SortStableFunc(some, func(a, b Entry) int { return a.At.Compare(b.At) })
	return some
}

const day = quantity.Day

func days(d time.Duration) float64 { return float64(d) / float64(day) }

func newest(entries []Entry, kind EntryKind) (last Entry, ok bool) {
	for _, e := range inOrder(entries, kind) {
		last, ok = e, true
	}
	return last, ok
}
