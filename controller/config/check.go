package config

import (
	"fmt"
	"slices"

	"benchtide/controller/quantity"
)

// check looks at what was read as a whole. A check is left out where a value
// that it needs was refused: that is noted already.
func (r *reader) check(s *Site) {
	r.checkBounds(s)
	r.checkDates(s)
	r.checkPlace(s)
	r.checkUnits()
	r.checkTitles(s)
	r.checkLineNames(s)
	r.checkLines(s)
	r.checkUse(s)
	r.checkClimate(s)
	for i := range s.Benches {
		r.checkHeights(&s.Benches[i])
		r.checkMargins(&s.Benches[i])
	}
	for i := range s.Reservoirs {
		r.checkReservoir(&s.Reservoirs[i])
	}
	for i := range s.Plans {
		r.checkStages(s, i)
	}
	for i := range s.Batches {
		r.checkBatch(s, i)
		r.checkCrowd(s, i)
	}
	s.busiest = busiest(s)
	for i := range s.Plans {
		r.checkPlan(s, i)
	}
	r.checkDoubts(s)
	r.checkSheets(s)
	for i := range s.Reservoirs {
		r.checkTank(s, i)
		r.checkRoom(s, i)
	}
	for i := range s.Batches {
		r.checkDepth(s, i)
	}
	r.checkRhythm(s)
	r.checkIdle(s)
	r.checkTogether(s)
	r.checkTurns(s)
	r.checkCounts(s)
}

// checkUnits says once that people may read US units where most of the file is
// written in them.
func (r *reader) checkUnits() {
	if metric, us := r.measures[quantity.Metric], r.measures[quantity.US]; us > metric && r.sound("site") && r.positionOf("site.units") == r.positionOf("site") {
		r.warnf("site", "most quantities here are in US units, and people read metric ones: write units: us to have gallons, feet and °F on the sheet, the page and in messages, or units: metric to keep it so")
	}
}

func (b *Bench) path(under string) string     { return "benches." + b.Name + under }
func (r *Reservoir) path(under string) string { return "reservoirs." + r.Name + under }

func stagePath(plan string, stage int, under string) string {
	return fmt.Sprintf("plans.%s.%d%s", plan, stage+1, under)
}

func batchPath(i int, under string) string { return fmt.Sprintf("batches.%d%s", i+1, under) }

// checkHeights compares what stands at some height above the table's floor.
func (r *reader) checkHeights(b *Bench) {
	crest, rim := b.Standpipe.Crest, b.Table.Rim
	if r.sound(b.path(".table"), b.path(".standpipe")) && crest >= rim {
		r.errorf(b.path(".standpipe.crest"), "%s: the crest is not below the rim of the table at %s: a flood would spill; shorten the standpipe", r.units.Mark(crest), r.units.Mark(rim))
	}
	if b.Full != nil && r.sound(b.path(".full_switch"), b.path(".standpipe")) && b.Full.At >= crest {
		r.errorf(b.path(".full_switch.at"), "%s: FULL is not below the crest at %s, so no flood would make it: set it %s below the crest", r.units.Mark(b.Full.At), r.units.Mark(crest), r.belowCrest())
	}
	if b.Empty != nil && b.Full != nil && r.sound(b.path(".empty_switch"), b.path(".full_switch")) && b.Empty.At >= b.Full.At {
		r.errorf(b.path(".empty_switch.at"), "%s: EMPTY is not below FULL at %s: set it on the floor of the table", r.units.Mark(b.Empty.At), r.units.Mark(b.Full.At))
	}
	if b.High == nil || !r.sound(b.path(".high_switch"), b.path(".table")) {
		return
	}
	if b.High.At >= rim {
		r.errorf(b.path(".high_switch.at"), "%s: HIGH is not below the rim at %s: water would spill before it acts", r.units.Mark(b.High.At), r.units.Mark(rim))
	}
	if b.High.Closes {
		r.warnf(b.path(".high_switch.water"), "closes: a broken wire would read as no water; wire HIGH normally closed and write opens")
	}
}

func (r *reader) checkReservoir(res *Reservoir) {
	if !r.sound(res.path("")) {
		return
	}
	if res.Keep >= res.Usable {
		r.errorf(res.path(".keep"), "%s: nothing of the %s is left to flood with: usable counts what is kept too", r.units.Volume(res.Keep), r.units.Volume(res.Usable))
	}
	if res.Low == nil {
		r.warnf(res.path(""), "no low_switch: nothing shows that the reservoir holds a flood before the pump starts")
	} else if res.LowAt > res.Usable {
		r.errorf(res.path(".low_switch.at"), "%s: the reservoir holds %s when full: the switch could never be made", r.units.Volume(res.LowAt), r.units.Volume(res.Usable))
	}
	if res.Level != nil && (res.LevelAt >= res.Usable || res.LevelAt <= res.Keep) {
		r.errorf(res.path(".level_switch.at"), "%s: no fill passes that between the %s of a full reservoir and the %s that are kept: set it between the two", r.units.Volume(res.LevelAt), r.units.Volume(res.Usable), r.units.Volume(res.Keep))
	}
}

func (r *reader) checkStages(s *Site, plan int) {
	p := &s.Plans[plan]
	for i, st := range p.Stages {
		if i > 0 && r.sound(stagePath(p.Name, i, ".from_day"), stagePath(p.Name, i-1, ".from_day")) && st.FromDay <= p.Stages[i-1].FromDay {
			before := p.Stages[i-1].FromDay
			what := "overlaps the stage before it, which begins on the same day"
			if st.FromDay < before {
				what = fmt.Sprintf("stands after the stage from day %d: put the stages in order of age", before)
			}
			r.errorf(stagePath(p.Name, i, ".from_day"), "%d: this stage %s", st.FromDay, what)
		}
		if st.Spread > 0 && s.light() == nil && r.sound("site", "lamps") {
			r.errorf(stagePath(p.Name, i, ".floods"), "%d: nothing says when there is light: give site its latitude and longitude, or describe the lamps", st.Spread)
		}
		if at := slices.Sorted(slices.Values(st.At)); len(slices.Compact(at)) < len(st.At) && r.sound(stagePath(p.Name, i, "")) {
			r.errorf(stagePath(p.Name, i, ".flood_at"), "the same time stands here twice: leave one out")
		}
	}
}

// checkIdle warns of a bench that the schedule never floods.
func (r *reader) checkIdle(s *Site) {
	for i := range s.Benches {
		planted := slices.ContainsFunc(s.Batches, func(b Batch) bool { return b.Bench == i })
		if !planted && r.sound("batches") {
			r.warnf(s.Benches[i].path(""), "no batch stands here: nothing floods it by schedule")
		}
	}
}

func (r *reader) checkBatch(s *Site, i int) {
	b := &s.Batches[i]
	if r.sound(batchPath(i, ".closed"), batchPath(i, ".transplanted"), batchPath(i, ".sown")) && b.Closed != 0 && b.Closed < b.Transplanted {
		r.errorf(batchPath(i, ".closed"), "%s: that is before the batch was %s on %s", b.Closed, b.Began(), b.Transplanted)
	}
}
