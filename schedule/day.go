package schedule

import "time"

// day is one bench on one date: its rule and its floods.
type day struct {
	date  Date
	known bool
	open  bool // some batch is in a stage
	rule  Planned
	times []TimeOfDay // ascending, none twice
}

func (d *day) planned(t TimeOfDay, zone *time.Location) Planned {
	p := d.rule
	p.Slot.Local = d.date.At(t)
	p.Due = p.Slot.Local.In(zone)
	return p
}

// day returns the bench's day d, worked out now or remembered. It stays valid
// until the next call.
func (c *Calendar) day(bench int, d Date) *day {
	today := &c.benches[bench].days[d&1]
	if !today.known || today.date != d {
		c.merge(today, bench, d)
	}
	return today
}

// merge works out a bench's day: the batch with most floods gives the times
// (of equals the one that can wait less, then the first in the file), the
// shortest hold, the lowest strength and the shortest wait of all apply.
func (c *Calendar) merge(today *day, bench int, d Date) {
	*today = day{date: d, known: true, rule: Planned{Slot: Slot{Bench: bench}}, times: today.times[:0]}
	var governing *Stage
	leavesOut, apart := false, time.Duration(0)
	for _, i := range c.benches[bench].batches {
		index, stage := c.stageOn(i, d)
		if stage == nil {
			continue
		}
		today.sharedWith(stage)
		c.trial = c.trial[:0]
		if c.floodsOn(i, stage, d) {
			c.trial = c.floods(c.trial, stage, d)
		}
		leavesOut = leavesOut || stage.Every > 1
		if a := stage.apart(); a > 0 && (apart == 0 || a < apart) {
			apart = a
		}
		if governing == nil || thirstier(stage, len(c.trial), governing, len(today.times)) {
			governing = stage
			today.rule.Batch, today.rule.Stage = i, index
			today.times, c.trial = c.trial, today.times
		}
	}
	today.rule.PerDay = len(today.times)
	if leavesOut {
		today.rule.Apart = apart
	}
}

// floodsOn reports whether d is one of the days on which the batch's stage floods,
// counted from its first.
func (c *Calendar) floodsOn(batch int, s *Stage, d Date) bool {
	if s.Every <= 1 {
		return true
	}
	b := &c.batches[batch]
	return int(d-b.Entered(c.plans[b.Plan], d))%s.Every == 0
}

// sharedWith tightens the day's rule to what the plants of s stand.
func (d *day) sharedWith(s *Stage) {
	if !d.open {
		d.open = true
		d.rule.Hold, d.rule.Strength, d.rule.CanWait = s.Hold, s.Strength, s.CanWait
		return
	}
	d.rule.Hold = min(d.rule.Hold, s.Hold)
	d.rule.Strength = min(d.rule.Strength, s.Strength)
	d.rule.CanWait = min(d.rule.CanWait, s.CanWait)
}

func thirstier(s *Stage, floods int, than *Stage, thanFloods int) bool {
	if floods != thanFloods {
		return floods > thanFloods
	}
	return s.CanWait < than.CanWait
}

// stageOn returns the batch's stage on d and its index; nil when the batch is
// not on its bench or too young for its first stage.
func (c *Calendar) stageOn(batch int, d Date) (int, *Stage) {
	index, ok := c.StageOn(batch, d)
	if !ok {
		return 0, nil
	}
	return index, &c.plans[c.batches[batch].Plan].Stages[index]
}

// floods appends the stage's times on d, ascending.
func (c *Calendar) floods(dst []TimeOfDay, s *Stage, d Date) []TimeOfDay {
	switch {
	case s.Cron != nil:
		return s.Cron.on(dst, d)
	case s.Spread > 0:
		return spread(dst, c.light, s.Spread, d)
	default:
		return append(dst, s.At...)
	}
}
