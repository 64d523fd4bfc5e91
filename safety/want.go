package safety

import "time"

// RunWant is what the controller wants of one bench's flood pump.
type RunWant struct {
	Pump    bool
	Flood   int64         // identity of the flood this run belongs to; a new run starts when it or Attempt changes
	Attempt int           // 0 for the first run of a slot, 1 for its retry
	Hold    time.Duration // how long FULL is to stand; cut to the bench's MaxHold
}

// Want is what the controller wants in this turn. The guard turns it into a
// Command. Slices are indexed as in Limits.
type Want struct {
	Benches []RunWant
	Stir    []bool // by stirrer
	Other   []bool // by output; read for outputs of kind Other only
}

// NewWant returns a Want of the shape of l that wants nothing.
func NewWant(l Limits) *Want {
	return &Want{
		Benches: make([]RunWant, len(l.Benches)),
		Stir:    make([]bool, len(l.Stirrers)),
		Other:   make([]bool, len(l.Outputs)),
	}
}
