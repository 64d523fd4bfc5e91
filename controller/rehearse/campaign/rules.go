package campaign

import (
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// The rules of this file hold a month to what is promised of people's acts and of
// what one bench may cost another. Each looks at true times and at the water that
// was truly there, and at nothing where the month's trouble makes that unsure.

// The charges of these rules.
const (
	early    = "early"    // an automatic flood that a person had asked to come later, or not at all
	needless = "needless" // kept from flooding, or latched, without a cause
	unserved = "unserved" // after an outage a crop waited too long for its catch-up flood
)

// start is a flood pump that started.
type start struct {
	note
	cause   controller.Cause
	attempt int
}

// refusal is a flood that the reservoir is said to be too low for, when it is first
// said and when the flood is given up.
type refusal struct {
	note
	bare   bool    // no water stood on any table of the reservoir
	litres float64 // in it
}

func (j *judgement) judgeRules() {
	j.judgePauses()
	j.judgeSkips()
	j.judgeRefusals()
	j.judgeStales()
	j.judgeOutage()
}

// troubled reports whether a fault of the month is of one of these kinds.
func (j *judgement) troubled(kinds ...string) bool {
	return slices.ContainsFunc(j.scenario.Faults, func(f rehearse.Fault) bool { return slices.Contains(kinds, f.What) })
}

// under is how long a flood may have been under way when a pause began.
const under = 5 * time.Minute

// judgePauses wants no automatic flood on a bench before the time until which a
// person paused it, whatever power and programs did meanwhile. A clock that was
// wrong when the person spoke says nothing of that time, nor does storage that forgot.
func (j *judgement) judgePauses() {
	if j.troubled(clockJump, "storage-full", "storage-broken", "storage-slow") {
		return
	}
	for i := range j.scenario.Acts {
		a := &j.scenario.Acts[i]
		if a.Do != "pause" || !j.answered(a) {
			continue
		}
		from, until := j.since(a.At)+under, j.since(a.Until)-time.Minute
		for n := range j.scenario.Acts {
			if o := &j.scenario.Acts[n]; n != i && o.Where == a.Where && (o.Do == "pause" || o.Do == "resume") && !o.At.Before(a.At) {
				until = min(until, j.since(o.At))
			}
		}
		for _, s := range j.runs {
			if j.site.Benches[s.bench].Name == a.Where && s.at > from && s.at < until && s.attempt == 0 && s.cause != controller.ByHand {
				j.charge(early, "%s flooded by %s at %s though it was paused until %s", a.Where, s.cause, s.at, until)
				break
			}
		}
	}
}

// judgeSkips wants the flood that a person left out to be on record as skipped
// before the bench floods again by itself, whatever power and programs did
// meanwhile. What a clock that was wrong calls the next flood, and what storage
// forgot, says nothing.
func (j *judgement) judgeSkips() {
	if j.troubled(clockJump, "storage-full", "storage-broken", "storage-slow") {
		return
	}
	for i := range j.scenario.Acts {
		a := &j.scenario.Acts[i]
		if a.Do != "skip" || !j.answered(a) {
			continue
		}
		from, bench := j.since(a.At), j.bench(a.Where)
		s := slices.IndexFunc(j.runs, func(s start) bool {
			byItself := s.cause == controller.BySchedule || s.cause == controller.ByElapsed
			return s.bench == bench && s.at > from && s.attempt == 0 && byItself
		})
		skipped := s < 0 || slices.ContainsFunc(j.ends, func(e end) bool {
			return e.flood.Bench == bench && e.flood.Outcome == controller.Skipped && e.at >= from && e.at < j.runs[s].at
		})
		if !skipped {
			j.charge(early, "%s flooded at %s though its next flood was skipped at %s", a.Where, j.runs[s].at, from)
		}
	}
}

// answered reports whether the program did what a person asked.
func (j *judgement) answered(a *rehearse.Act) bool {
	at := controller.Stamp(a.At, j.site.Zone)
	return slices.ContainsFunc(j.report.Acts, func(r rehearse.Answer) bool {
		return r.At == at && r.Do == a.Do && r.Where == a.Where && r.Answer == "done"
	})
}

// settles is how long after the program's start, or after a pump of the reservoir
// started, water may count as not home though it is: the longest run, what a table
// takes to drain, and as long again as is waited for it.
func settles(l *safety.Limits) (longest time.Duration) {
	for i := range l.Benches {
		b := &l.Benches[i]
		longest = max(longest, rehearse.Longest(b)+2*b.Drain+5*time.Minute)
	}
	return longest
}

// judgeRefusals wants no bench kept from its water by reservoir-low while that
// water is there: with all tables bare for hours, a healthy low switch that
// shows it, or none and a tank that holds a flood.
func (j *judgement) judgeRefusals() {
	if j.troubled("wire-open", "wire-short", "full-stuck-high", "full-stuck-low", "chatter", "switches-unread", "low-stuck", "table-tilted", "process-hang") {
		return
	}
	limits := j.site.Limits()
	for _, r := range j.low {
		l := &limits.Benches[r.bench]
		tank := &limits.Reservoirs[l.Reservoir]
		needs := float64(l.Flood + tank.Keep)
		if tank.Low {
			needs = float64(tank.LowAt) + j.unsure(l.Reservoir)
		}
		if r.bare && r.litres > needs && !j.stirred(l.Reservoir, r.at-settles(&limits), r.at) {
			j.charge(needless, "%s was kept from flooding at %s by reservoir-low with %.0f L in %s and every table bare", l.Name, r.at, r.litres, tank.Name)
			return
		}
	}
}

// unsure is what a float may be off by, in litres of a reservoir: 2 % of what it shows,
// or its band and the place where it was fixed, in a tank as deep as the sheet takes it
// to be.
func (j *judgement) unsure(reservoir int) float64 {
	const floats, deep = 0.015, 0.4 // m
	r := &j.site.Reservoirs[reservoir]
	surface := float64(r.Inside.Area())
	if surface == 0 {
		surface = float64(r.Usable) / 1000 / deep
	}
	return max(0.02*float64(r.Usable), 1000*surface*floats)
}

// stirred reports whether a pump of a reservoir ran, or the program may have started,
// between two times.
func (j *judgement) stirred(reservoir int, from, to time.Duration) bool {
	for i := range j.scenario.Faults {
		f := &j.scenario.Faults[i]
		down := slices.Contains([]string{"power-cut", "process-crash", "brownout-loop"}, f.What)
		if at := j.since(f.At); down && at <= to && at+f.For+time.Minute >= from {
			return true
		}
	}
	return slices.ContainsFunc(j.runs, func(s start) bool {
		return s.at >= from && s.at <= to && j.site.Benches[s.bench].Reservoir == reservoir
	})
}

// judgeStales wants a bench latched as stale only where it was stale before, in the day
// that powered time tells: never at the first time of the month.
func (j *judgement) judgeStales() {
	for i := range j.trips {
		t := &j.trips[i]
		if t.why != safety.Stale || !t.latched {
			continue
		}
		again := slices.ContainsFunc(j.trips[:i], func(o trip) bool {
			return o.bench == t.bench && o.why == safety.Stale && t.at-o.at < 24*time.Hour+j.dark()
		})
		if !again {
			j.charge(needless, "%s was latched as stale at %s, the first time in a day", j.site.Benches[t.bench].Name, t.at)
		}
	}
}

// dark is how long the machine may have been without power or program.
func (j *judgement) dark() (sum time.Duration) {
	for i := range j.scenario.Faults {
		if f := &j.scenario.Faults[i]; f.What == "power-cut" || f.What == "process-crash" || f.What == "brownout-loop" {
			sum += f.For + time.Hour
		}
	}
	return sum
}

// catchesUp is how long after an outage a catch-up flood may take: the clock
// has to be trusted, tables to drain, and other benches of the reservoir to have their turn.
const catchesUp = 4 * time.Hour

// judgeOutage wants every crop watered in time after the one outage of a month: within
// what it can wait, or soon after the power is back where that time is past.
func (j *judgement) judgeOutage() {
	f := j.scenario.Faults
	if len(f) != 1 || f[0].What != "power-cut" && f[0].What != "process-crash" || !j.undisturbed() || !j.scenario.Attended {
		return
	}
	if len(j.low) > 0 || slices.ContainsFunc(j.trips, func(t trip) bool { return t.why != safety.MinRest }) {
		return // told of, with its reason
	}
	back := j.since(f[0].At.Add(f[0].For)) + catchesUp
	for i := range j.site.Batches {
		b := &j.site.Batches[i]
		planted := j.since(b.Transplanted.At(0).In(j.site.Zone))
		wait, stands := j.canWait(i, back)
		if !stands || planted > back-2*catchesUp || b.Closed != 0 && j.since(b.Closed.At(0).In(j.site.Zone)) < back {
			continue
		}
		last, next := max(0, planted), back
		for _, at := range j.watered[b.Bench] {
			if next = at; at > back {
				break
			}
			last = max(last, at)
		}
		if later, stands := j.canWait(i, next); stands {
			wait = max(wait, later)
		}
		switch {
		case next-last > wait && next > back:
			j.charge(unserved, "%s on %s had no water for %.1f h after the outage, and could not wait for its next flood: it can wait %.0f h",
				b.Name, j.site.Benches[b.Bench].Name, (next - last).Hours(), wait.Hours())
		case back-last > wait:
			j.charge(unserved, "%s on %s had no water for %.1f h by %.0f h after the outage; it can wait %.0f h",
				b.Name, j.site.Benches[b.Bench].Name, (back - last).Hours(), catchesUp.Hours(), wait.Hours())
		}
	}
}
