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
	Litres    []demand.Litres    // by reservoir, as far as switches and floods tell
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
