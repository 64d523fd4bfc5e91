package grow

import (
	"time"

	"benchtide/schedule/demand"
)

// Record is what was recorded of a site.
type Record struct {
	Now       time.Time
	Floods    []Flood // with an outcome, oldest first
	Proofs    []Proof
	Diary     map[string][]Entry // by place; "" for the site
	Held      []string           // pauses, hands-in and latched trips, in words
	Untrusted bool               // wall time is not trusted
	Litres    []demand.Litres    // by reservoir; meaningful where Unknown is empty
	Unknown   []string           // by reservoir: why nobody knows what it holds; empty where it is known
	Weighed   map[string][]Gone  // by reservoir, oldest first
}

// Gone is what went from a reservoir between two weighings, with the top-ups
// between them counted in.
type Gone struct {
	From, To time.Time
	Litres   demand.Litres
}

// Flood is one flood of the record. A time of 0 was not measured.
type Flood struct {
	Bench      int
	Due        time.Time
	Proven     bool
	Outcome    string
	Fill, Fall time.Duration
}

// Proof is a test of a switch such as north.high.
type Proof struct {
	Switch string
	At     time.Time
}
