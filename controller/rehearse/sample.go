package rehearse

import (
	"math"
	"time"
)

// Sample is what the simulated site really held at a time, for pictures.
// Slices are in the order of the site.
type Sample struct {
	At    time.Time
	Depth []float64 // m, by bench
	Stock []float64 // L, by reservoir
	Water []float64 // share of container capacity, by batch; not a number while it does not stand
	Limit []float64 // of it, below which the plants of each batch on a table begin to suffer
}

const sampleEvery = time.Hour // besides every turn of the program

// planSamples has samples taken while nothing happens, too.
func (r *rehearsal) planSamples() {
	if r.options.Sample == nil {
		return
	}
	for at := time.Duration(0); at < r.end; at += sampleEvery {
		r.agenda.at(at, r.sample)
	}
}

// sample tells how things stand now, up to the end of the scenario.
func (r *rehearsal) sample() {
	if r.options.Sample == nil || r.world.Elapsed() > r.end {
		return
	}
	truth := r.world.Truth()
	s := Sample{At: r.start.Add(r.world.Elapsed())}
	for _, b := range truth.Benches {
		s.Depth = append(s.Depth, b.Depth)
	}
	for _, t := range truth.Reservoirs {
		s.Stock = append(s.Stock, t.Litres)
	}
	s.Water, s.Limit = make([]float64, len(r.site.Batches)), make([]float64, len(r.site.Batches))
	for i, b := range r.site.Batches {
		s.Water[i] = math.NaN()
		for _, t := range truth.Batches {
			if t.Name == b.Name && t.OnTable {
				s.Water[i], s.Limit[i] = t.Water, t.Limit
			}
		}
	}
	r.options.Sample(s)
}
