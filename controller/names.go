package controller

import (
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
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
	Titles     texts.Titles   // what people call them, where it is not the name
	BenchOf    []int          // by batch: the index of its bench
	Units      quantity.Units // in which people read figures
}
