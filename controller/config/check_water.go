package config

import (
	"slices"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/schedule"
)

// belowCrest is how far below the crest FULL stands.
func (r *reader) belowCrest() string {
	if r.units == quantity.US {
		return "1/8 to 5/16 in"
	}
	return "3 to 8 mm"
}

// checkSheets works out the bench sheets and looks at what they say.
func (r *reader) checkSheets(s *Site) {
	s.sheets = make([]sheet.Sheet, len(s.Benches))
	for i := range s.Benches {
		since := len(r.problems)
		r.checkSheet(s, i)
		r.blame(since, s.causes(i)...)
	}
}

func (r *reader) checkSheet(s *Site, i int) {
	b := &s.Benches[i]
	if !r.measurable(s, b) {
		return
	}
	of := s.bench(i)
	if !r.sound("batches") { // wrong pots would make a wrong V_flood
		of.Tenants = nil
	}
	made, err := sheet.New(of)
	if err != nil {
		r.errorf(b.path(""), "%v", err)
		return
	}
	s.sheets[i] = made
	for _, doubt := range made.Doubts {
		r.warnf(b.path(".cycle.fill"), "%s", doubt)
	}
	if r.sound("batches") {
		r.checkReserve(s, i)
	}
	r.checkGuarding(s, i)
	r.checkHolds(s, i)
	r.checkSpans(s, i)
	r.checkReckoned(s, i)
}

// measurable reports whether all that a sheet is made from could be read.
func (r *reader) measurable(s *Site, b *Bench) bool {
	for _, part := range []string{".reservoir", ".table", ".standpipe", ".supply", ".drain", ".full_switch", ".cycle"} {
		if !r.sound(b.path(part)) {
			return false
		}
	}
	res := &s.Reservoirs[b.Reservoir]
	return res.Usable > 0 && res.Keep > 0
}

// bench is what the sheet of bench i is made from.
func (s *Site) bench(i int) sheet.Bench {
	b := &s.Benches[i]
	made := sheet.Bench{
		Table: b.Table, Standpipe: b.Standpipe, Supply: b.Supply, Drain: b.Drain, Cycle: b.Cycle,
		Usable: s.Reservoirs[b.Reservoir].Usable, Surface: s.Reservoirs[b.Reservoir].Inside.Area(), Tenants: s.tenants(i), Units: s.Units,
	}
	if b.Full != nil {
		made.Full = b.Full.At
	}
	return made
}

// tenants returns the sets of pots that stand on bench i together: a set
// changes only when a batch comes or goes, so the arrival of each batch shows
// every set that is not part of a larger one, and the day after each leaves
// shows what remains.
func (s *Site) tenants(i int) [][]sheet.Pots {
	var days []schedule.Date
	for _, b := range s.Batches {
		if b.Bench == i {
			days = append(days, b.Transplanted)
			if b.Closed != 0 {
				days = append(days, b.Closed.AddDays(1))
			}
		}
	}
	var sets [][]sheet.Pots
	for _, d := range days {
		pots := s.tenantsOn(i, d)
		if len(pots) > 0 && !slices.ContainsFunc(sets, func(set []sheet.Pots) bool { return slices.Equal(set, pots) }) {
			sets = append(sets, pots)
		}
	}
	return sets
}

// PotsOn returns the pots that stand on bench i on one day.
func (s *Site) PotsOn(i int, d schedule.Date) []sheet.Pots { return s.tenantsOn(i, d) }

// Draw is what a fill of bench i takes with these pots on it.
func (s *Site) Draw(i int, pots []sheet.Pots) (sheet.Draw, error) { return s.bench(i).Draw(pots) }

// tenantsOn returns the pots that stand on bench i on one day.
func (s *Site) tenantsOn(i int, d schedule.Date) (pots []sheet.Pots) {
	for _, b := range s.Batches {
		if b.Bench == i && b.Pots.Known() && b.stands(d) {
			pots = append(pots, b.Pots)
		}
	}
	return pots
}

// checkReserve sees to it that the reservoir can give a flood.
func (r *reader) checkReserve(s *Site, i int) {
	res := &s.Reservoirs[s.Benches[i].Reservoir]
	flood := s.sheets[i].VFlood
	need := flood + res.Keep
	if res.Usable < need {
		r.errorf(res.path(".usable"), "%s: a flood of %s takes %s and %s are kept: it needs %s at least",
			r.units.Volume(res.Usable), s.listed(i), r.units.Volume(flood), r.units.Volume(res.Keep), r.units.Least(need))
	} else if res.Low != nil && res.LowAt < need {
		r.errorf(res.path(".low_switch.at"), "%s: a flood of %s takes %s and %s are kept, so the switch has to prove %s at least: set it higher",
			r.units.Volume(res.LowAt), s.listed(i), r.units.Volume(flood), r.units.Volume(res.Keep), r.units.Least(need))
	}
}

// roomForLeaks is how many times V_flood a made low switch has to prove, beside
// what is kept, so that no hold is cut before a leak has taken that much.
const roomForLeaks = 1.15

// checkCounts sees to it that the litres counted from the fall of each low switch
// last for a whole flood: see safety/count.go. What may follow from a number that
// is odd is not said.
func (r *reader) checkCounts(s *Site) {
	for i := range s.Benches {
		b := &s.Benches[i]
		if len(r.odd) == 0 && r.sound(b.path(""), "batches", "plans") && r.measurable(s, b) && s.Reservoirs[b.Reservoir].Low != nil {
			r.checkCount(s, i)
		}
	}
}

func (r *reader) checkCount(s *Site, i int) {
	b, sh, res := &s.Benches[i], &s.sheets[i], &s.Reservoirs[s.Benches[i].Reservoir]
	least, because := roomForLeaks*sh.VFlood, "after a slow fill the pump is stopped when the water counted since it fell reaches what is kept"
	if b.Full == nil {
		run := sh.Fill
		if b.High != nil {
			run += s.maxHold(i)
		}
		least = max(least, quantity.Litres(float64(sh.Flow)*run.Hours()))
		because = "without full_switch nothing shows that water comes back, so the pump is stopped when the water counted since the switch fell reaches what is kept"
	}
	least += res.Keep
	if res.LowAt >= least || sh.VFlood == 0 || !r.sound(res.path(".low_switch")) {
		return
	}
	remedy := "set it at " + r.units.Least(least) + " or higher"
	if least > res.Usable {
		remedy = "have a larger reservoir, or floods that take less: it would have to prove " + r.units.Least(least)
	}
	r.warnf(res.path(".low_switch.at"), "%s: a flood of %s may be stopped before its hold is over, since %s: %s", r.units.Volume(res.LowAt), s.listed(i), because, remedy)
}

// checkGuarding looks at what keeps water below the rim.
func (r *reader) checkGuarding(s *Site, i int) {
	b, sh := &s.Benches[i], &s.sheets[i]
	peak := b.Standpipe.Crest + sh.OverflowHead
	switch {
	case b.High != nil && b.High.At <= peak && r.sound(b.path(".high_switch")):
		r.errorf(b.path(".high_switch.at"), "%s: an ordinary flood stands %s over the crest, at %s: set HIGH between that and the rim at %s",
			r.units.Mark(b.High.At), r.units.Depth(sh.OverflowHead), r.units.Depth(peak), r.units.Mark(b.Table.Rim))
	case b.High == nil && sh.CanOverfill:
		r.warnf(b.path(""), "only the standpipe keeps water from the floor: fit a high_switch, or fill the reservoir to no more than %s, the most that the table holds",
			r.units.Most(sh.ToRim))
	case b.High != nil && sh.CanOverfill && b.Pump >= 0 && s.Outputs[b.Pump].Enable < 0:
		r.warnf(b.path(".high_switch"), "nothing but this program acts on it: wire it into the coil of an enable relay, or fill the reservoir to no more than %s, the most that the table holds",
			r.units.Most(sh.ToRim))
	}
	if b.Full == nil && b.High == nil {
		r.warnf(b.path(""), "neither full_switch nor high_switch: the pump runs for T_fill, %s, no hold is kept, and no flood can be proven", quantity.Duration(sh.Fill))
	} else if b.Full == nil {
		r.warnf(b.path(""), "no full_switch: no flood can be proven")
	}
}

// checkHolds refuses a hold that would spill if the standpipe were blocked.
func (r *reader) checkHolds(s *Site, i int) {
	b, over := &s.Benches[i], s.benchLimits(i).Over
	if b.Full == nil || b.High != nil || !r.sound("batches") {
		return
	}
	for _, plan := range s.plansOn(i) {
		p := &s.Plans[plan]
		for j, st := range p.Stages {
			if st.Hold > over && r.sound(stagePath(p.Name, j, ".hold")) {
				r.errorf(stagePath(p.Name, j, ".hold"), "%s: with the standpipe of %s blocked the water reaches the rim %s after the crest, and nothing guards it: hold no longer than that, or fit a high_switch",
					quantity.Duration(st.Hold), s.listed(i), quantity.Duration(over))
			}
		}
	}
}

// plansOn returns the plans that the batches of bench i follow; every plan
// when it has none, since it may be flooded by hand.
func (s *Site) plansOn(i int) []int {
	var on []int
	for _, b := range s.Batches {
		if b.Bench == i && b.Plan >= 0 && !slices.Contains(on, b.Plan) {
			on = append(on, b.Plan)
		}
	}
	if len(on) == 0 {
		for p := range s.Plans {
			on = append(on, p)
		}
	}
	return on
}
