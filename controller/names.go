package controller

import (
	"time"

	"benchtide/controller/quantity"
)

// Names are what the indices of a site stand for: in events, in a Status and in
// messages.
type Names struct {
	Site       string
	Zone       *time.Location
	Outputs    []string
	Benches    []string
	Reservoirs []string
	Batches    []string
	BenchOf    []int          // by batch: the index of its bench
	Units      quantity.Units // in which people read figures
}
