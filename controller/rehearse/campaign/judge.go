package campaign

import (
	"fmt"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

// Charge is one thing that is wrong with a month.
type Charge struct {
	Kind string `json:"kind"` // one of the charges
	Text string `json:"text"`
}

// The charges.
const (
	invariant = "invariant" // the checker found one broken
	spilled   = "spilled"   // a single fault spilled past its bound
	ranDry    = "ran-dry"   // a single fault ran a pump dry past its bound
	silent    = "silent"    // harm came and nobody was told
	unwatered = "unwatered" // mended, the crop was not watered again in time
)

// judgement is what came of a month.
type judgement struct {
	setting
	*observer
	report  *rehearse.Report
	start   time.Time
	allowed allowance
	charges []Charge
	waited  time.Duration // the longest from all mended to the first flood that counted
}

func (j *judgement) charge(kind, format string, args ...any) {
	j.charges = append(j.charges, Charge{kind, fmt.Sprintf(format, args...)})
}

// since is a time as elapsed since the month began.
func (j *judgement) since(t time.Time) time.Duration { return t.Sub(j.start) }

func (j *judgement) judge() {
	j.allowed = j.allowance()
	for _, b := range j.report.BrokenInvariants {
		j.charge(invariant, "%s", b)
	}
	j.judgeBounds()
	j.judgeSilence()
	j.judgeLife()
	j.judgeRules()
}

// drops is what may reach the floor without being a spill: a float that
// interrupts, a mouthful that runs over while HIGH acts.
const drops = 0.05 // L

// dryFor is how long a pump may run dry in a month in which nothing took away
// what tells that there is no water.
const dryFor = time.Second

// judgeBounds holds a month of one fault, or none, to the bounds stated for it.
func (j *judgement) judgeBounds() {
	if !j.allowed.single {
		return
	}
	if j.report.SpilledL > j.allowed.litres {
		j.charge(spilled, "%.2f L on the floor; the bound is %.2f L", j.report.SpilledL, j.allowed.litres)
	}
	if longest := j.driest(); j.longestDry > longest {
		j.charge(ranDry, "a pump ran dry for %s; the bound is %s", j.longestDry, longest)
	}
}

// driest is how long a pump may run dry in one run.
func (j *judgement) driest() time.Duration {
	if j.allowed.endless {
		return j.longestRun() + j.scenario.Faults[0].For
	}
	if longest := j.longestRun(); j.allowed.dry || j.allowed.astray && j.startedWithin(longest, j.scenario.Faults[0].At) {
		return longest
	}
	return dryFor
}

// startedWithin reports whether a flood's pump was started in the time before another.
func (j *judgement) startedWithin(d time.Duration, before time.Time) bool {
	at := j.since(before)
	return slices.ContainsFunc(j.starts, func(s note) bool { return s.at < at && at <= s.at+d })
}

// longestRun is the longest that a pump may run for one flood, and a stirrer
// before it.
func (j *judgement) longestRun() time.Duration {
	var flood, stir time.Duration
	limits := j.site.Limits()
	for b := range limits.Benches {
		flood = max(flood, rehearse.Longest(&limits.Benches[b]))
	}
	for _, s := range j.site.Stirring {
		stir += s.BeforeFlood * 3 / 2
	}
	return flood + stir + time.Second
}

// tellWithin is how soon a person has to be told of a harm.
const tellWithin = time.Minute

// tried is how long the flood of a slot may be tried for: two hours, and the
// turns of the other benches of a reservoir.
const tried = 4 * time.Hour

// judgeSilence finds harm of which nobody was told: a planned flood that did not
// count, and water on the floor where a switch is fitted that can tell.
func (j *judgement) judgeSilence() {
	for _, e := range j.ends {
		f := &e.flood
		if f.Outcome == controller.Skipped || f.StoodFor() {
			continue
		}
		// A refusal is told when it comes, hours before the slot is given up; a
		// clock that stepped meanwhile does not say how many.
		waited := max(tried, f.Ended.Sub(f.Due)+time.Hour)
		if !j.toldBy(f.Bench, e.at-waited, e.at+tellWithin) {
			j.charge(silent, "flood %d of %s is %s (%s) and nobody was told", f.ID, j.site.Benches[f.Bench].Name, f.Outcome, f.Reason)
		}
	}
	j.judgeWetFloor()
}

// puddle is how much on the floor has to wet its sensor, whoever mopped before.
const puddle = 1.0 // L

// judgeWetFloor wants a message where the floor under a bench with a floor
// sensor got wet, whose wire the trouble left alone.
func (j *judgement) judgeWetFloor() {
	if len(j.spills) == 0 {
		return
	}
	for i := range j.site.Benches {
		if j.site.Benches[i].Leak == nil {
			return // the water may have come down elsewhere
		}
	}
	for _, f := range j.scenario.Faults {
		if f.What == "wire-short" || f.What == "power-cut" || f.What == "process-hang" {
			return
		}
	}
	for _, s := range j.spills {
		if s.litres > puddle && !j.toldBy(-1, 0, s.at+tellWithin) {
			j.charge(silent, "%.1f L on the floor by %s and nobody was told", s.litres, s.at)
			return
		}
	}
}

// judgeLife wants every crop watered again, once all is mended, within what it
// can wait, and from then on without a longer gap.
func (j *judgement) judgeLife() {
	const settled = mended + time.Duration(resets)*resetEvery
	end := time.Duration(j.scenario.Days) * 24 * time.Hour
	for i := range j.site.Batches {
		b := &j.site.Batches[i]
		planted := j.since(b.Transplanted.At(0).In(j.site.Zone))
		gone := end
		if b.Closed != 0 {
			gone = min(end, j.since(b.Closed.AddDays(1).At(0).In(j.site.Zone)))
		}
		last := max(planted, settled)
		for _, at := range append(j.watered[b.Bench], gone) {
			if at < last || at > gone {
				continue
			}
			if last == settled {
				j.waited = max(j.waited, at-last)
			}
			wait, ok := j.canWait(i, at)
			if before, had := j.canWait(i, last); had { // the stage may have changed meanwhile
				wait = max(wait, before)
			}
			if ok && at-last > wait {
				j.charge(unwatered, "%s on %s was without water for %.1f h, from %.1f h after all was mended; it can wait %.0f h",
					b.Name, j.site.Benches[b.Bench].Name, (at - last).Hours(), (last - mended).Hours(), wait.Hours())
				break
			}
			last = at
		}
	}
}

// canWait is what batch i can stand without water at a time, at the age that it
// has or that a trusted clock gives it, whichever is longer; false when it has
// no stage then.
func (j *judgement) canWait(i int, at time.Duration) (time.Duration, bool) {
	plan := &j.site.Plans[j.site.Batches[i].Plan]
	age := j.age(i, j.start.Add(at))
	k, ok := plan.StageAt(age)
	if !ok {
		return 0, false
	}
	wait := plan.Stages[k].CanWait
	if k, ok := plan.StageAt(max(0, j.age(i, j.start.Add(at+j.clockOff(at))))); ok {
		wait = max(wait, plan.Stages[k].CanWait)
	}
	return wait, true
}

func (j *judgement) age(batch int, at time.Time) int {
	return int(schedule.CivilIn(at, j.site.Zone).Date() - j.site.Batches[batch].Transplanted)
}

// clockOff is how far a wall clock that is believed has stepped by a time.
func (j *judgement) clockOff(at time.Duration) (off time.Duration) {
	for i := range j.scenario.Faults {
		if f := &j.scenario.Faults[i]; f.What == "clock-jump" && j.since(f.At) <= at {
			off += time.Duration(f.Size * float64(f.For))
		}
	}
	return off
}
