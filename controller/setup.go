package controller

import (
	"errors"
	"fmt"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/safety"
	"benchtide/schedule"
)

// Setup is what a controller is built from. Indices of benches, reservoirs,
// stirrers and outputs are those of Limits; batches and plans are those of the
// calendar.
type Setup struct {
	Limits   safety.Limits
	Calendar *schedule.Calendar
	Plans    []schedule.Plan
	Batches  []schedule.Batch

	Buzzer     int           // output that sounds before an automatic start; -1 without one
	BuzzBefore time.Duration // for how long
	AlwaysOn   []int         // outputs of kind Other that are always on, as the air pump
	AlarmLamps []int         // on while Signal says so
	AlarmHorns []int         // sound while Signal says so
	DayOutputs []DayOutput   // outputs with hours, as lamps
	Unattended string        // why floods may not start unattended; empty when they may
	// Draw is what a fill of a bench takes on a date, and Drunk what its plants take
	// from their pots between two times. Without them nothing is weighed.
	Draw  func(bench int, d schedule.Date) Draw
	Drunk func(bench int, from, to time.Time) Drunk
	// PotsLast is how long after a flood that counted the pots of a batch still give
	// what its plants take without stress on the hottest days, at most most. Without
	// it a crop clock knows no limit but what its stage says.
	PotsLast func(batch int, f LastFlood, most time.Duration) time.Duration
	// Bands are by reservoir how far below where they are made its low and its level
	// switch turn back, in metres; 0, and none, mean an ordinary float. Surfaces are by
	// reservoir its plan area in square metres; 0, and none, where nobody says.
	Bands    [][2]float64
	Surfaces []float64

	Units  quantity.Units // in which people are told of water
	Titles texts.Titles   // what people call benches, reservoirs and batches

	RecordGrace time.Duration // how long a start waits for storage; 0 means DefaultRecordGrace
}

// DayOutput is an output that is on between two times of day. Off at or
// before On runs past midnight.
type DayOutput struct {
	Output  int
	On, Off schedule.TimeOfDay
}

// DefaultRecordGrace is how long a start waits for storage to acknowledge the
// intention before the pump starts unrecorded.
const DefaultRecordGrace = 3 * time.Second

// check refuses a setup whose indices do not fit together.
func (s *Setup) check() error {
	for _, b := range s.Batches {
		if b.Bench < 0 || b.Bench >= len(s.Limits.Benches) {
			return fmt.Errorf("controller: batch %q stands on bench %d of %d", b.Name, b.Bench, len(s.Limits.Benches))
		}
		if b.Plan < 0 || b.Plan >= len(s.Plans) {
			return fmt.Errorf("controller: batch %q follows plan %d of %d", b.Name, b.Plan, len(s.Plans))
		}
	}
	if s.Calendar == nil {
		return errors.New("controller: no calendar")
	}
	return nil
}

// cycle is the whole time one flood takes on bench b: fill, hold and drain.
func (s *Setup) cycle(b int, hold time.Duration) time.Duration {
	l := &s.Limits.Benches[b]
	return l.Fill + hold + l.Drain
}

// stirrer returns the stirrer of a reservoir, or -1.
func (s *Setup) stirrer(reservoir int) int {
	for i := range s.Limits.Stirrers {
		if s.Limits.Stirrers[i].Reservoir == reservoir {
			return i
		}
	}
	return -1
}
