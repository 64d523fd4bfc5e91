package campaign

import (
	"math"
	"slices"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

// stage is where a month plays: what the bounds of its faults follow from.
type stage struct {
	site     *config.Site
	scenario *rehearse.Scenario
}

// over is how far a true pump may exceed the flow of the bench sheet, and a
// true table what the sheet says of it.
const over = 1.25

// bench is the index of the bench that a fault is about; -1 for another place.
func (s *stage) bench(where string) int {
	name, _, _ := strings.Cut(where, ".")
	return slices.IndexFunc(s.site.Benches, func(b config.Bench) bool { return b.Name == name })
}

// floods is how many runs of a bench's pump can come while a fault lasts: those
// that a day may hold, and what people ask for.
func (s *stage) floods(bench int, f *rehearse.Fault) float64 {
	calendar, err := s.site.Calendar()
	if err != nil {
		return math.Inf(1)
	}
	from := f.At.Add(-2 * time.Hour) // one may be under way
	n := 1
	for _, p := range calendar.Between(civil(s, from), civil(s, f.At.Add(f.For+2*time.Hour))) {
		if p.Slot.Bench == bench {
			n++
		}
	}
	return float64(n + len(s.scenario.Acts))
}

// longest is the longest that a pump may run for one flood of a bench, in
// seconds.
func (s *stage) longest(bench int) float64 {
	l := s.site.Limits().Benches[bench]
	if !l.Full && !l.High {
		return l.Fill.Seconds()
	}
	return (l.Fill*3/2 + l.MaxHold).Seconds()
}

// supply is the most that can be lost while a fault lasts: what the reservoirs
// hold, filled again each day and by everyone who is asked to.
func (s *stage) supply(f *rehearse.Fault) (litres float64) {
	for i := range s.site.Reservoirs {
		litres += float64(s.site.Reservoirs[i].Usable)
	}
	refills := 2 + math.Ceil(f.For.Hours()/24)
	for i := range s.scenario.Acts {
		if a := &s.scenario.Acts[i]; a.Do == "top-up" && a.At.Before(f.At.Add(f.For)) {
			refills++
		}
	}
	return litres * refills
}

// window is what a pump brings before a FULL that does not come stops it, in
// litres: 1.5 × T_fill, and where no FULL is fitted the whole run.
func (s *stage) window(bench int) float64 {
	l := s.site.Limits().Benches[bench]
	seconds := s.longest(bench)
	if l.Full {
		seconds = l.Fill.Seconds() * 1.5
	}
	return over * float64(s.site.Sheet(bench).Pumped) / 3600 * seconds
}

// table is the most that stands on a table, in litres.
func (s *stage) table(bench int) float64 { return over * float64(s.site.Sheet(bench).VFlood) }

// throughTheHose: a floor sensor stops the first run, and what is on the table
// follows. FULL that does not come stops a run and latches at the second slot at
// the latest, a third run when a refill of the reservoir passes for the water
// coming home. A hose that is only partly off lets FULL come: like a bench
// without FULL it loses its share at every flood until the reservoir is low.
func throughTheHose(s *stage, f *rehearse.Fault) float64 {
	b := s.bench(f.Where)
	l := s.site.Limits().Benches[b]
	switch {
	case l.Leak:
		return s.table(b) + 1
	case l.Full && f.Size == all:
		return 3*s.window(b) + s.table(b)
	}
	run := over * float64(s.site.Sheet(b).Pumped) / 3600 * s.longest(b)
	return s.floods(b, f) * (run*f.Size + s.table(b))
}

// overTheRim: FULL and the hold, or HIGH, keep a flood below the rim though
// nothing leaves the table. Without either the next flood comes on top of the
// last, and only what the reservoir holds ends it.
func overTheRim(s *stage, f *rehearse.Fault) float64 {
	l := s.site.Limits().Benches[s.bench(f.Where)]
	if l.Full || l.High {
		return 0
	}
	return s.supply(f)
}

// throughTheHole: a floor sensor ends it with what is on the table; otherwise
// every flood loses what a hole of 10 mm passes under a full table.
func throughTheHole(s *stage, f *rehearse.Fault) float64 {
	b := s.bench(f.Where)
	l := s.site.Limits().Benches[b]
	if l.Leak {
		return s.table(b) + 1
	}
	const area = math.Pi / 4 * 0.010 * 0.010
	litresPerSecond := 1000 * area * f.Size * math.Sqrt(2*9.81*float64(s.site.Benches[b].Table.Rim))
	return s.floods(b, f) * min(litresPerSecond*(s.longest(b)+2*l.Drain.Seconds()), s.table(b)+s.window(b))
}

// outOfTheTank: nothing holds the water of a reservoir that leaks.
func outOfTheTank(_ *stage, f *rehearse.Fault) float64 { return 20*f.For.Hours()*f.Size + 1 }

// overTheTank: what was on a table comes home to a reservoir that is full.
func overTheTank(s *stage, f *rehearse.Fault) (most float64) {
	for i := range s.site.Benches {
		if s.site.Reservoirs[s.site.Benches[i].Reservoir].Name == f.Where {
			most = max(most, s.table(i))
		}
	}
	return most
}

func civil(s *stage, t time.Time) schedule.Civil { return schedule.CivilIn(t, s.site.Zone) }
