package config

import (
	"fmt"
	"slices"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/safety"
	"benchtide/schedule"
)

// horizon is how far in days plans are looked at beyond their last stage: a
// year, so that every season and every day of a cron expression comes.
const horizon = 366

// unplanted is the first day of a plan that no batch follows yet. It begins a
// leap year, so that all days of a year come.
var unplanted = schedule.DateOf(2028, time.January, 1)

// busiest is how many floods each stage of each plan makes on its busiest day,
// counted no further than one more than the guard allows.
func busiest(s *Site) [][]int {
	all := make([][]int, len(s.Plans))
	for i, p := range s.Plans {
		for _, st := range p.Stages {
			n := max(len(st.At), st.Spread)
			if st.Cron != nil {
				n = busiestCron(st.Cron)
			}
			all[i] = append(all[i], n)
		}
	}
	return all
}

func busiestCron(c *schedule.Cron) int {
	most := 0
	for d := unplanted; d < unplanted.AddDays(horizon) && most <= safety.StartsPerDay; {
		at, ok := c.Next(d.At(0) - 1)
		if !ok {
			break
		}
		d = at.Date()
		n := 0
		for ; ok && at.Date() == d && n <= safety.StartsPerDay; at, ok = c.Next(at) {
			n++
		}
		most = max(most, n)
		d = d.AddDays(1)
	}
	return most
}

// checkRhythm follows each plan through the days of each batch: no wait longer
// than the plants stand, no flood before the one before it is over.
func (r *reader) checkRhythm(s *Site) {
	for i := range s.Plans {
		p := &s.Plans[i]
		if !r.sound("plans."+p.Name) || !r.checkBusiest(s, i) || !r.lit(p) {
			continue
		}
		followed := false
		for j, b := range s.Batches {
			if b.Plan != i {
				continue
			}
			followed = true
			if r.sound(batchPath(j, "")) {
				since := len(r.problems)
				b.Name = texts.Listed(b.Name, s.Titles.Batches)
				r.follow(s, p, b.Batch, s.sheets[b.Bench].Fill > 0, j)
				r.blame(since, "plans."+p.Name, s.Benches[b.Bench].path(""), batchPath(j, ""))
			}
		}
		if !followed {
			r.follow(s, p, schedule.Batch{Name: texts.Listed(p.Name, s.Titles.Plans), Transplanted: unplanted}, false, -1)
		}
	}
}

// lit reports whether the light that the plan goes by, if it does, is known.
func (r *reader) lit(p *schedule.Plan) bool {
	spreads := slices.ContainsFunc(p.Stages, func(st schedule.Stage) bool { return st.Spread > 0 })
	return !spreads || r.sound("site", "lamps")
}

func (r *reader) checkBusiest(s *Site, plan int) bool {
	fine := true
	for j, n := range s.busiest[plan] {
		if n > safety.StartsPerDay {
			r.errorf(stagePath(s.Plans[plan].Name, j, ".cron"), "%q: more than %d floods a day, and no pump may start more often: flood less often",
				s.Plans[plan].Stages[j].Cron, safety.StartsPerDay)
			fine = false
		}
	}
	return fine
}

// follow looks at one batch alone on its bench.
func (r *reader) follow(s *Site, p *schedule.Plan, b schedule.Batch, spaced bool, batch int) {
	alone := b
	alone.Plan, alone.Bench, alone.Asked = 0, 0, false
	c, err := schedule.NewCalendar(schedule.Setup{Zone: s.Zone, Light: s.light(), Plans: []schedule.Plan{*p}, Batches: []schedule.Batch{alone}, Benches: 1})
	if err != nil {
		r.errorf("plans."+p.Name, "%v", err)
		return
	}
	from, to := span(*p, alone)
	noted := map[int]bool{}
	for _, conflict := range c.Conflicts(from, to) {
		stage, ok := p.StageAt(int(conflict.From - alone.Transplanted))
		if conflict.Kind == schedule.GapConflict && ok && !noted[stage] {
			noted[stage] = true
			when, remedy := "from "+conflict.From.String()+" on ", "flood more often, or allow a longer wait"
			if conflict.Change {
				when, remedy = "on "+conflict.From.String()+" ", "let this stage flood earlier, or the one before later, or allow a longer wait"
			}
			if conflict.From == alone.Transplanted.AddDays(p.Stages[stage].FromDay) {
				remedy += beginsAfter(p, stage)
			}
			r.errorf(stagePath(p.Name, stage, ".can_wait"), "%s: %s%s: %s",
				quantity.Duration(p.Stages[stage].CanWait), when, conflict.Detail, remedy)
		}
	}
	if spaced {
		r.checkSpacing(s, c.Between(from.At(0), to.AddDays(1).At(0)), p, batch)
	}
}

// beginsAfter names the days after a flood of the stage before, where that leaves
// out the day on which the next one begins to wait.
func beginsAfter(p *schedule.Plan, stage int) string {
	if stage == 0 || p.Stages[stage-1].Every <= 1 {
		return ""
	}
	before := &p.Stages[stage-1]
	day := before.FromDay + (p.Stages[stage].FromDay-1-before.FromDay)/before.Every*before.Every + 1
	return fmt.Sprintf(", or begin on the day after a flood of the stage before: from_day: %d or %d", day, day+before.Every)
}

// span is the time for which a batch follows its plan, as far as it is looked at.
func span(p schedule.Plan, b schedule.Batch) (from, to schedule.Date) {
	from = b.Transplanted.AddDays(p.Stages[0].FromDay)
	to = b.Transplanted.AddDays(p.Stages[len(p.Stages)-1].FromDay + horizon)
	if b.Closed != 0 {
		to = min(to, b.Closed)
	}
	return from, to
}

// checkSpacing refuses a slot before the flood of the one before it is over
// and its rest has passed.
func (r *reader) checkSpacing(s *Site, slots []schedule.Planned, p *schedule.Plan, batch int) {
	bench := s.Batches[batch].Bench
	sh := &s.sheets[bench]
	noted := map[int]bool{}
	for i := 1; i < len(slots); i++ {
		before := slots[i-1]
		takes := sh.Fill + before.Hold + sh.Drain + safety.RestMargin
		apart := time.Duration(slots[i].Slot.Local-before.Slot.Local) * time.Second
		if apart >= takes || noted[slots[i].Stage] {
			continue
		}
		noted[slots[i].Stage] = true
		r.errorf(stagePath(p.Name, slots[i].Stage, ""), "floods at %s and %s: on %s a flood takes %s to fill, hold, drain and rest, and cannot finish before the next: put them further apart",
			before.Slot.Local.TimeOfDay(), slots[i].Slot.Local.TimeOfDay(), s.listed(bench), quantity.Duration(takes))
	}
}

// checkTogether warns of what benches withhold from the batches that share them.
func (r *reader) checkTogether(s *Site) {
	if len(r.bad) > 0 || len(s.Batches) < 2 {
		return
	}
	found, err := s.Conflicts(s.seasons())
	if err != nil {
		r.errorf("batches", "%v", err)
		return
	}
	for _, conflict := range found {
		path := batchPath(conflict.Batches[0], "")
		r.warnf(path, "on %s from %s to %s %s", s.listed(conflict.Bench), conflict.From, conflict.To, conflict.Detail)
	}
}

// seasons is the time that the batches span, cut to ten years.
func (s *Site) seasons() (from, to schedule.Date) {
	for i, b := range s.Batches {
		first, last := span(s.Plans[b.Plan], b.Batch)
		if i == 0 {
			from, to = first, last
		}
		from, to = min(from, first), max(to, last)
	}
	return from, min(to, from.AddDays(longest))
}

// maxHold is the longest hold of any stage on bench i.
func (s *Site) maxHold(i int) (most time.Duration) {
	for _, p := range s.plansOn(i) {
		for _, st := range s.Plans[p].Stages {
			most = max(most, st.Hold)
		}
	}
	return most
}

// dailyRun is twice the pump time of the busiest day of any stage on bench i.
func (s *Site) dailyRun(i int) (most time.Duration) {
	for _, p := range s.plansOn(i) {
		for j, st := range s.Plans[p].Stages {
			most = max(most, 2*time.Duration(s.busiest[p][j])*(s.sheets[i].Fill+st.Hold))
		}
	}
	return most
}
