package campaign

import (
	"math/rand/v2"
	"slices"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

// A month begins healthy, has its trouble, is mended at one hour, and ends
// healthy: long enough for every crop to be watered again.
const (
	troubleFrom  = 1 * 24 * time.Hour
	troubleUntil = 8 * 24 * time.Hour
	mended       = 16*24*time.Hour + 10*time.Hour
	resetEvery   = time.Hour
	resets       = 8 // water has to drain and the floor to be mopped before all can be reset
)

var firstDay = schedule.DateOf(year, time.January, 1)

// months of the year, each a rehearsal.
const months = 12

// monthFrom is the first day of month m, 0 to months.
func monthFrom(m int) schedule.Date { return schedule.DateOf(year, time.January+time.Month(m), 1) }

// drawMonth draws what happens on a site in month m.
func drawMonth(r *rand.Rand, site *config.Site, m int) rehearse.Scenario {
	from := monthFrom(m)
	s := rehearse.Scenario{
		From: from, Days: int(monthFrom(m+1) - from), Seed: r.Uint64() >> 12,
		Weather: pick(r, "mild", "normal", "hot"), Attended: chance(r, 0.85),
	}
	start := from.At(0).In(site.Zone)
	at := func(d time.Duration) time.Time { return start.Add(d.Round(time.Second)) }
	if len(site.Benches) > 1 && chance(r, crowded) {
		s.Attended, s.Faults = true, []rehearse.Fault{drawCrowding(r, site, at)}
		mend(&s, site, at)
		return s
	}
	for range pick(r, 0, 1, 1, 1, 1, 1, 1, 2, 2, 2) {
		s.Faults = append(s.Faults, drawFault(r, site, at)...)
	}
	if chance(r, 0.4) {
		for range 1 + r.IntN(4) {
			s.Acts = append(s.Acts, drawAct(r, site, drawWhen(r, s.Faults, at)))
		}
	}
	mend(&s, site, at)
	slices.SortStableFunc(s.Acts, func(a, b rehearse.Act) int { return a.At.Compare(b.At) })
	return s
}

// drawFault draws a fault that is over when all is mended. Half of them begin
// near a flood, where most of what can go wrong does.
func drawFault(r *rand.Rand, site *config.Site, at func(time.Duration) time.Time) []rehearse.Fault {
	k := drawKind(r)
	places := k.places(site)
	for len(places) == 0 {
		k = drawKind(r)
		places = k.places(site)
	}
	when := time.Duration(between(r, float64(troubleFrom), float64(troubleUntil)))
	f := rehearse.Fault{What: k.what, Where: pick(r, places...), At: at(when), For: min(k.duration(r), mended-when-time.Hour), Size: k.size(r)}
	if chance(r, 0.5) {
		f.At = nearFlood(r, site, f.At)
	}
	if k.grows && chance(r, 0.5) {
		f.Over = f.For.Round(time.Minute) / 2
	}
	switch {
	case k.what == "power-cut" && chance(r, 0.5):
		f.For = untilFlood(r, site, f.At, at(mended-time.Hour))
	case k.again && chance(r, 0.3):
		return comesAgain(r, site, f, at(mended-time.Hour))
	}
	if k.what != clockJump {
		return []rehearse.Fault{f}
	}
	f.Size = pick(r, -all, all)
	back := f
	back.At, back.Size = f.At.Add(time.Duration(between(r, float64(time.Minute), float64(5*24*time.Hour))).Round(time.Second)), -f.Size
	return []rehearse.Fault{f, back}
}

// nearFlood is a time within the first quarter hour of the first flood after t,
// or t when the site plans none.
func nearFlood(r *rand.Rand, site *config.Site, t time.Time) time.Time {
	calendar, err := site.Calendar()
	if err != nil {
		return t
	}
	p, ok := calendar.After(r.IntN(len(site.Benches)), schedule.CivilIn(t, site.Zone))
	if !ok || p.Due.Sub(t) > 3*24*time.Hour {
		return t
	}
	return p.Due.Add(time.Duration(between(r, -float64(time.Minute), float64(15*time.Minute))).Round(time.Second))
}

// untilFlood is how long an outage lasts that crops cannot wait for and that ends as
// a flood comes due, when most has to be put in order at once.
func untilFlood(r *rand.Rand, site *config.Site, from, most time.Time) time.Duration {
	end := nearFlood(r, site, from.Add(time.Duration(between(r, float64(12*time.Hour), float64(60*time.Hour)))))
	end = end.Add(-time.Duration(between(r, 0, float64(20*time.Minute))).Round(time.Second))
	if end.After(most) {
		end = most
	}
	return end.Sub(from)
}

// comesAgain is a fault in a flood, a machine that goes down after that for some
// minutes, and the same fault in a flood a day or two later.
func comesAgain(r *rand.Rand, site *config.Site, f rehearse.Fault, most time.Time) []rehearse.Fault {
	again, down := f, f
	f.For = min(f.For, time.Hour)
	down.What, down.Where, down.At, down.For = "power-cut", "", f.At.Add(2*time.Hour), time.Duration(between(r, 1, 10)*float64(time.Minute)).Round(time.Second)
	again.At, again.For = nearFlood(r, site, f.At.Add(time.Duration(between(r, 24, 60)*float64(time.Hour)))), f.For
	if again.At.Add(again.For).After(most) {
		return []rehearse.Fault{f}
	}
	return []rehearse.Fault{f, down, again}
}

// crowded is the share of months of sites with several benches in which an outage has
// some benches owed a flood at once while the slot of another comes due.
const crowded = 0.2

// drawCrowding is an outage that no crop can wait for and that ends minutes before a
// flood: the tables still count as full then, and whoever is owed a flood waits.
func drawCrowding(r *rand.Rand, site *config.Site, at func(time.Duration) time.Time) rehearse.Fault {
	f := rehearse.Fault{What: "power-cut", Size: all, At: at(time.Duration(between(r, float64(troubleFrom+24*time.Hour), float64(troubleUntil))))}
	long := time.Duration(between(r, 20, 60) * float64(time.Hour))
	end := f.At.Add(long)
	if calendar, err := site.Calendar(); err == nil {
		if p, ok := calendar.After(r.IntN(len(site.Benches)), schedule.CivilIn(end, site.Zone)); ok {
			end = p.Due
		}
	}
	f.For = end.Add(-time.Duration(between(r, 0, float64(12*time.Minute)))).Sub(f.At).Round(time.Second)
	return f
}

// drawWhen draws when a person does something, before all is mended: often in the
// hours around a fault.
func drawWhen(r *rand.Rand, faults []rehearse.Fault, at func(time.Duration) time.Time) time.Time {
	when := at(time.Duration(between(r, float64(12*time.Hour), float64(troubleUntil+2*24*time.Hour))))
	if len(faults) > 0 && chance(r, 0.4) {
		if near := pick(r, faults...).At.Add(time.Duration(between(r, -12, 6) * float64(time.Hour)).Round(time.Second)); near.After(at(time.Hour)) {
			return near
		}
	}
	return when
}

// drawAct draws what a person does.
func drawAct(r *rand.Rand, site *config.Site, when time.Time) rehearse.Act {
	a := rehearse.Act{Where: pick(r, site.BenchNames()...), At: when}
	switch r.IntN(9) {
	case 0:
		a.Do, a.Hold = "flood", time.Duration(1+r.IntN(10))*time.Minute
	case 1:
		a.Do, a.At = "stop", nearFlood(r, site, when)
	case 2:
		a.Do = "skip"
	case 3:
		a.Do, a.Until = "pause", when.Add(time.Duration(1+r.IntN(40))*time.Hour)
	case 4:
		a.Do, a.Where, a.On, a.For = "hands-in", "", true, time.Duration(1+r.IntN(90))*time.Minute
	case 5:
		a.Do, a.Where = "proof-test", ""
	case 6:
		a.Do, a.Where = "top-up", pick(r, site.ReservoirNames()...)
	case 7:
		a.Do, a.Found = "reset", "it looked all right"
	case 8:
		a.Do = "mop"
	}
	return a
}

// mend has a person put everything right, hour after hour until all that may be
// reset is: what was wrong is over by then. Whoever is not there to refill the
// reservoirs is from then on.
func mend(s *rehearse.Scenario, site *config.Site, at func(time.Duration) time.Time) {
	act := func(t time.Duration, do, where string) {
		a := rehearse.Act{Do: do, Where: where, At: at(t)}
		if do == "reset" {
			a.Found = "the cause, and mended it"
		}
		s.Acts = append(s.Acts, a)
	}
	act(mended, "hands-in", "") // not On: it ends
	for n := range resets {
		t := mended + time.Duration(n)*resetEvery
		for _, tank := range site.ReservoirNames() {
			act(t, "top-up", tank)
		}
		for _, b := range site.BenchNames() {
			act(t, "mop", b)
			act(t+time.Minute, "reset", b)
			if n == 0 {
				act(t, "resume", b)
			}
		}
	}
	for day := int(mended/(24*time.Hour)) + 1; !s.Attended && day < s.Days; day++ {
		for _, tank := range site.ReservoirNames() {
			for _, hour := range []time.Duration{6, 7} {
				act(time.Duration(day)*24*time.Hour+hour*time.Hour, "top-up", tank)
			}
		}
	}
}
