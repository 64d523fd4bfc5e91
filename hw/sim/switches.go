package sim

import (
	"math"

	"benchtide/safety"
)

// The switches of a bench.
const (
	full = iota
	high
	empty
	leakPad
	switches
)

var switchNames = [switches]string{"full", "high", "empty", "leak"}

// sensor is a switch, how it is wired, and what faults do to it.
type sensor struct {
	contact Contact
	at      float64 // m
	band    float64 // m below it at which it is clear again
	effect
	raw safety.Level
}

// effect is what faults do to a switch: to its float, then to its wire.
type effect struct {
	stuck  safety.Level // Dry or Wet; Absent when it moves freely
	broken bool         // wire open
	bridge bool         // wire short
}

// read gives the raw level of a switch whose float is, or would be, made.
func (s *sensor) read(made bool) safety.Level {
	if !s.contact.Fitted {
		return safety.Absent
	}
	wet := made
	if s.stuck != safety.Absent {
		wet = s.stuck == safety.Wet
	}
	switch {
	case s.broken:
		wet = s.contact.WaterOpens
	case s.bridge:
		wet = !s.contact.WaterOpens
	}
	if wet {
		return safety.Wet
	}
	return safety.Dry
}

// past is how far water at x is beyond the point at which a float that is made
// or clear changes.
func past(made bool, x, at, band float64) float64 {
	if made {
		return at - band - x
	}
	return x - at
}

// past is how far the depth at its floats is beyond the change of one of them.
func (b *bench) past(k int, made bool, depth float64) float64 {
	at := b.switches[k].at
	if !made {
		at += b.run.late[k]
	}
	return past(made, depth, at, b.switches[k].band)
}

// floatsPast is how far litres on the table of a bench are beyond the first
// change of one of its floats.
func (w *World) floatsPast(bench int, litres float64) float64 {
	b, s := &w.benches[bench], &w.Benches[bench]
	depth, most := b.seen(b.basin.depth(litres)), math.Inf(-1)
	for k := full; k <= empty; k++ {
		if b.switches[k].contact.Fitted {
			most = max(most, b.past(k, s.Made[k], depth))
		}
	}
	return most
}

// seen is the depth at the end of the table where the floats are. Of a table out
// of level that is the mean depth less the tilt, and while a part of it lies bare
// that of a wedge of the same water.
func (b *bench) seen(depth float64) float64 {
	switch lean := math.Abs(b.tilt); {
	case depth >= lean:
		return depth - b.tilt
	case b.tilt > 0:
		return 0
	default:
		return 2 * math.Sqrt(lean*depth)
	}
}

// float moves the floats of a bench to where its water is and says whether one
// changed.
func (w *World) float(bench int) (changed bool) {
	b, s := &w.benches[bench], &w.Benches[bench]
	depth := b.basin.depth(s.Litres)
	s.Peak = max(s.Peak, depth)
	depth = b.seen(depth)
	for k := full; k <= empty; k++ {
		if b.switches[k].contact.Fitted && b.past(k, s.Made[k], depth) >= 0 {
			s.Made[k], changed = !s.Made[k], true
		}
	}
	return changed
}

// padsPast is how far the tried step goes beyond wetting a dry leak switch.
func (w *World) padsPast() float64 {
	most := math.Inf(-1)
	for i := range w.benches {
		b, s := &w.benches[i], &w.Benches[i]
		if b.Leak.Fitted && !s.Made[leakPad] {
			most = max(most, s.Floor+b.floored+w.reservoirs[b.Reservoir].floored-padLitres)
		}
	}
	return most
}

// sense takes every raw reading anew and notes whether one changed.
func (w *World) sense() {
	for i := range w.benches {
		b, s := &w.benches[i], &w.Benches[i]
		for k := range b.switches {
			w.note(&b.switches[k], s.Made[k] || s.Lifted[k])
		}
	}
	for i := range w.reservoirs {
		s := &w.Reservoirs[i]
		w.note(&w.reservoirs[i].low, s.Low && !s.Lifted)
		w.note(&w.reservoirs[i].level, s.Level && !s.LiftedLevel)
	}
}

func (w *World) note(s *sensor, made bool) {
	if level := s.read(made); level != s.raw {
		s.raw = level
		w.changed = true
	}
}
