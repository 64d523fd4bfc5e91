package rehearse

import (
	"cmp"
	"slices"
	"time"
)

// agenda is what is to be done outside the program, by time since the start of
// the world. Entries of one time keep the order in which they came.
type agenda struct {
	now     func() time.Duration
	entries []entry
}

type entry struct {
	at time.Duration
	do func()
}

func (a *agenda) at(t time.Duration, do func()) {
	i, _ := slices.BinarySearchFunc(a.entries, t, func(e entry, t time.Duration) int {
		return cmp.Or(cmp.Compare(e.at, t), -1) // behind those of the same time
	})
	a.entries = slices.Insert(a.entries, i, entry{t, do})
}

func (a *agenda) after(d time.Duration, do func()) { a.at(a.now()+d, do) }

// next is when the first entry is due.
func (a *agenda) next() time.Duration {
	if len(a.entries) == 0 {
		return never
	}
	return a.entries[0].at
}

// run does what has come due.
func (a *agenda) run() {
	for len(a.entries) > 0 && a.entries[0].at <= a.now() {
		do := a.entries[0].do
		a.entries = slices.Delete(a.entries, 0, 1)
		do()
	}
}
