package config

import (
	"slices"
	"time"

	"benchtide/controller/texts"
	"benchtide/safety"
	"benchtide/schedule"
)

// tried is how long a flood that is due waits for its turn at a reservoir.
const tried = 2 * time.Hour

// checkTurns warns of a bench whose turn at a reservoir that several share comes
// after its flood is given up: on the days on which a stage begins, and on the
// first of each month, when floods that go by the light have moved.
func (r *reader) checkTurns(s *Site) {
	if len(r.bad) > 0 || len(s.Benches) == len(s.Reservoirs) {
		return
	}
	calendar, err := s.Calendar()
	if err != nil {
		return // checkTogether has said so
	}
	told, limits := make([]bool, len(s.Benches)), s.Limits()
	for _, day := range s.turningDays() {
		slots := calendar.Between(day.At(0), day.AddDays(1).At(0))
		for i, turn := range turns(slots, &limits) {
			late, bench := &slots[i], slots[i].Slot.Bench
			if told[bench] || turn.Sub(late.Due) <= tried {
				continue
			}
			told[bench] = true
			r.warnf(s.Benches[bench].path(""), "on %s the flood of %s would have to wait until %s while other benches use %s, and it is given up after two hours: flood them further apart, or give this bench a reservoir of its own",
				day, late.Slot.Local.TimeOfDay(), turn.In(s.Zone).Format("15:04"), texts.Listed(s.Reservoirs[s.Benches[bench].Reservoir].Name, s.Titles.Reservoirs))
		}
	}
}

// turns says when the turn of each slot comes: in the order in which they are due,
// and of the file where they coincide, each for as long as its bench may take to fill,
// hold and drain.
func turns(slots []schedule.Planned, limits *safety.Limits) []time.Time {
	at, free := make([]time.Time, len(slots)), make([]time.Time, len(limits.Reservoirs))
	for i := range slots {
		p := &slots[i]
		bench := &limits.Benches[p.Slot.Bench]
		tank := bench.Reservoir
		at[i] = p.Due
		if free[tank].After(at[i]) {
			at[i] = free[tank]
		}
		if at[i].Sub(p.Due) <= tried {
			free[tank] = at[i].Add(bench.Fill + p.Hold + bench.Drain)
		}
	}
	return at
}

// turningDays are those on which turns are looked at, in order.
func (s *Site) turningDays() (days []schedule.Date) {
	from, to := s.seasons()
	for i := range s.Batches {
		for _, st := range s.Plans[s.Batches[i].Plan].Stages {
			days = append(days, s.Batches[i].Transplanted.AddDays(st.FromDay))
		}
	}
	for d := from; d <= to; d = d.AddDays(1) {
		if d.Day() == 1 {
			days = append(days, d)
		}
	}
	slices.Sort(days)
	return slices.Compact(days)
}
