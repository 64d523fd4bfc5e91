package controller

import "time"

// Names are what the indices of a site stand for: in events, in a Status and in
// messages.
type Names struct {
	Site       string
	Zone       *time.Location
	Outputs    []string
	Benches    []string
	Reservoirs []string
	Batches    []string
	BenchOf    []int // by batch: the index of its bench
}
