package grow

import (
	"fmt"
	"time"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Forecast is the water in the pots of a batch over some days.
type Forecast struct {
	Batch   int
	From    schedule.Date
	Days    int
	Holds   demand.Litres // one pot at container capacity
	Limit   float64       // share of that below which plants begin to suffer
	Floods  []schedule.Planned
	Courses [len(Kinds)]Course
	Needs   [len(Kinds)]demand.Need // on the last of the days, with the hold then
}

// Course is the water in a pot on days of one kind.
type Course struct {
	Kind   Kind
	Points []Point        // in order of time; two at each flood
	Lowest float64        // share of what a pot holds
	Below  schedule.Civil // when it first falls below the limit; 0 when it does not
}

// Point is the water in a pot at a time, as a share of what it holds.
type Point struct {
	At    schedule.Civil
	Share float64
}

// settles is how many days before the first of a forecast the pots are followed
// from container capacity, so that it begins as things will be then.
const settles = 10

// Forecast draws a batch as the calendar plans its floods; false when it does
// not stand on its bench on the first of the days.
func (s *Site) Forecast(batch int, from schedule.Date, days int) (Forecast, bool, error) {
	b := &s.Batches[batch]
	if from < b.Transplanted || b.Closed != 0 && from > b.Closed {
		return Forecast{}, false, nil
	}
	if b.Closed != 0 {
		days = min(days, int(b.Closed-from)+1)
	}
	pot := b.Demand.Pot
	p := Forecast{Batch: batch, From: from, Days: days, Holds: pot.Holds(), Limit: float64(pot.Threshold() / pot.Holds())}
	first := max(b.Transplanted, from.AddDays(-settles))
	all := s.floodsOn(b.Bench, first, from.AddDays(days))
	for _, f := range all {
		if f.Slot.Local >= from.At(0) {
			p.Floods = append(p.Floods, f)
		}
	}
	for _, k := range Kinds {
		c, err := s.course(b, k, 1, first, from, days, all)
		if err != nil {
			return Forecast{}, false, fmt.Errorf("forecast of %s: %w", b.Name, err)
		}
		p.Courses[k] = c
		if p.Needs[k], err = s.needs(b, from.AddDays(days-1), k); err != nil {
			return Forecast{}, false, fmt.Errorf("forecast of %s: %w", b.Name, err)
		}
	}
	return p, true, nil
}

func (s *Site) floodsOn(bench int, from, to schedule.Date) []schedule.Planned {
	return s.Calendar.On(bench, from.At(0), to.At(0))
}

// course follows a pot from container capacity on first, with plants that use
// spare times what is worked out, and keeps the days from from on.
func (s *Site) course(b *Batch, k Kind, spare float64, first, from schedule.Date, days int, floods []schedule.Planned) (Course, error) {
	pot := b.Demand.Pot
	c := Course{Kind: k, Lowest: 1}
	water := pot.Holds()
	for d := first; d < from.AddDays(days); d++ {
		w, err := s.Weather(d, k)
		if err != nil {
			return Course{}, err
		}
		n, err := b.Demand.Need(b.age(d), 0, w)
		if err != nil {
			return Course{}, err
		}
		points := pot.Course(water, []demand.Litres{n.PerPot * demand.Litres(spare)}, w.Shine, s.on(b, d, floods))
		water = points[len(points)-1].Water
		if d >= from {
			c.add(pot, d, points)
		}
	}
	return c, nil
}

func (c *Course) add(pot demand.Pot, d schedule.Date, points []demand.Point) {
	for _, q := range points {
		p := Point{d.At(0) + schedule.Civil(q.At/time.Second), float64(q.Water / pot.Holds())}
		c.Points = append(c.Points, p)
		c.Lowest = min(c.Lowest, p.Share)
		if c.Below == 0 && q.Water < pot.Threshold() {
			c.Below = p.At
		}
	}
}

func (b *Batch) age(d schedule.Date) int { return int(d - b.Transplanted) }

// on is the floods of a date as a pot feels them.
func (s *Site) on(b *Batch, d schedule.Date, floods []schedule.Planned) (felt []demand.Flood) {
	for _, f := range floods {
		if f.Slot.Local.Date() == d {
			felt = append(felt, demand.Flood{At: time.Duration(f.Slot.Local.TimeOfDay()) * time.Second, Contact: s.contact(b, f.Hold)})
		}
	}
	return felt
}

// contact is how long a flood stands at the pots. That of filling and of the
// last of the water is left out, which errs towards drier pots.
func (s *Site) contact(b *Batch, hold time.Duration) time.Duration { return hold + s.Falls[b.Bench] }

// needs is what the batch needs on a date with the hold that its bench has then.
func (s *Site) needs(b *Batch, d schedule.Date, k Kind) (demand.Need, error) {
	w, err := s.Weather(d, k)
	if err != nil {
		return demand.Need{}, err
	}
	governs, _ := s.Calendar.Governs(b.Bench, d)
	return b.need(b.age(d), s.contact(b, governs.Hold), w, k)
}

// thirsty is the batch as advice reckons with it: its plants use more than is worked
// out.
func (b *Batch) thirsty() demand.Batch {
	t := b.Demand
	t.Scale = spare * max(1, t.Scale)
	return t
}

// need is what a batch needs on a kind of day. On hottest days its floods are those
// that advice counts.
func (b *Batch) need(age int, contact time.Duration, w demand.Weather, k Kind) (demand.Need, error) {
	n, err := b.Demand.Need(age, contact, w)
	if err != nil || k != Hottest {
		return n, err
	}
	more, err := b.thirsty().Need(age, contact, w)
	n.Floods, n.Every = more.Floods, more.Every
	return n, err
}
