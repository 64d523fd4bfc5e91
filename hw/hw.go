// Package hw is the seam between the core and the world: a Board that reads
// switches and drives relays, and a Clock that tells time and waits. One code
// path serves a real board, the demo, rehearsals and tests; only the Board and
// the Clock differ.
package hw

import (
	"context"
	"time"

	"benchtide/safety"
)

// Board is the hardware of one site.
type Board interface {
	// Read fills r with the present raw readings. A switch that cannot be
	// read gets Level Fault and keeps its last good At. Read never blocks on
	// a slow sensor: such readings are taken beside it and handed over.
	Read(now safety.Now, r *safety.Readings)

	// Apply drives every output to c: outputs that open do so before outputs
	// that close, pumps before their enable relay. An error means that at
	// least one output may not be as commanded.
	Apply(c safety.Command) error

	// NextRead says when, on the boot-time clock, the switches want to be
	// read again at the latest, and outputs that did not obey to be commanded
	// again. A board that is polled answers now plus its control period; one
	// that knows when its next switch changes and when its outputs obey again
	// answers with that.
	NextRead(now time.Duration) time.Duration

	// Close puts every output off and releases the lines.
	Close() error
}

// Clock tells time and waits.
type Clock interface {
	Now() safety.Now
	// Wait returns when the boot-time clock reaches until, when wake
	// delivers, or when ctx ends, whichever is first; the error is ctx's.
	Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error
}
