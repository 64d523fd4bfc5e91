package rehearse

import (
	"math"
	"slices"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/safety"
	"benchtide/schedule"
)

// Case is a scenario of one fault, or none, on a site: what the bounds of it
// follow from.
type Case struct {
	Site     *config.Site
	Scenario *Scenario
	Fault    Fault // the zero Fault when nothing is wrong

	bench  int // that it is about; -1 for another place
	limits safety.Limits
}

// CaseOf is the scenario as a case; false when more than one thing goes wrong. A
// clock that jumps there and back is one.
func CaseOf(site *config.Site, s *Scenario) (*Case, bool) {
	c := &Case{Site: site, Scenario: s, bench: -1, limits: site.Limits()}
	switch f := s.Faults; {
	case len(f) == 0:
		return c, true
	case len(f) == 1 || len(f) == 2 && f[0].What == clockJump && f[1].What == clockJump:
		c.Fault = f[0]
	default:
		return nil, false
	}
	name, _, _ := strings.Cut(c.Fault.Where, ".")
	c.bench = slices.IndexFunc(site.Benches, func(b config.Bench) bool { return b.Name == name || site.Outputs[b.Pump].Name == name })
	return c, true
}

const clockJump = "clock-jump"

// over is how far a true pump may exceed the flow of the bench sheet, and a
// true table what the sheet says of it.
const over = 1.25

// has reports whether the bench of the fault has all that the words name.
func (c *Case) has(words string) bool {
	for word := range strings.FieldsSeq(words) {
		if c.bench < 0 || !c.fitted(word) {
			return false
		}
	}
	return true
}

func (c *Case) fitted(word string) bool {
	b := &c.limits.Benches[c.bench]
	switch word {
	case "FULL":
		return b.Full
	case "HIGH":
		return b.High
	case "EMPTY":
		return b.Empty
	case "leak":
		return b.Leak
	case "low":
		return c.limits.Reservoirs[b.Reservoir].Low
	case "drained":
		return c.limits.FloorDrained
	case "enable":
		return c.limits.Outputs[b.Pump].Enable >= 0
	case "weighs":
		return c.weighs()
	case "emptied":
		return c.emptied()
	case "open":
		return c.Site.Benches[c.bench].Drain.Always
	}
	panic("no sensor is called " + word)
}

// passed is how much of a fill a reservoir may be short of its mark for the
// switch that weighs it to be passed by each fill.
const passed = 0.7

// weighs reports whether each fill of the bench passes a switch of its reservoir,
// which no other bench draws from. Below a level switch that nobody tops up to floods
// go on, and none is weighed before the low switch is reached.
func (c *Case) weighs() bool {
	b := &c.limits.Benches[c.bench]
	for i := range c.limits.Benches {
		if i != c.bench && c.limits.Benches[i].Reservoir == b.Reservoir {
			return false
		}
	}
	r := &c.limits.Reservoirs[b.Reservoir]
	var at safety.Litres
	if r.Low {
		at = r.LowAt
	}
	if r.Level && c.Scenario.Attended {
		at = max(at, r.LevelAt)
	}
	return at > 0 && at >= r.Usable-passed*b.ToFull
}

// emptied reports whether one flood of which nothing comes home may take all that
// its reservoir holds: the table holds so much up to HIGH, and the pump lifts it.
func (c *Case) emptied() bool {
	b := &c.limits.Benches[c.bench]
	out := c.pumped(c.longest())
	if of := &c.Site.Benches[c.bench]; of.High != nil {
		out = min(out, 1000*float64(of.Table.Length*of.Table.Width*of.High.At))
	}
	r := &c.limits.Reservoirs[b.Reservoir]
	return out > float64(r.Usable-r.Keep)
}

// share is how much of what the pump brings, or the table holds, the fault lets go in a
// flood. What grows is small first.
func (c *Case) share() float64 {
	switch {
	case c.Fault.Over > 0:
		return 0
	case c.Fault.What == "table-leak":
		return c.hole() * c.longest() / float64(c.Site.Sheet(c.bench).VFlood)
	}
	return c.Fault.Size
}

// discharge of an orifice with a sharp edge.
const discharge = 0.6

// hole is what a hole of 10 mm passes under a table full to its crest, L/s.
func (c *Case) hole() float64 {
	const area = math.Pi / 4 * 0.010 * 0.010
	return 1000 * area * discharge * c.Fault.Size * math.Sqrt(2*9.81*float64(c.Site.Benches[c.bench].Standpipe.Crest))
}

// floods is how many runs of the bench's pump can come while the fault lasts:
// those that a day may hold, and what people ask for.
func (c *Case) floods() float64 {
	calendar, err := c.Site.Calendar()
	if err != nil {
		return math.Inf(1)
	}
	n := 1
	from := c.Fault.At.Add(-2 * time.Hour) // one may be under way
	for _, p := range calendar.Between(c.civil(from), c.civil(c.until().Add(2*time.Hour))) {
		if p.Slot.Bench == c.bench {
			n++
		}
	}
	return float64(n + c.acts("flood"))
}

// acts is how often people do this before the fault is over.
func (c *Case) acts(do string) (n int) {
	for i := range c.Scenario.Acts {
		if a := &c.Scenario.Acts[i]; a.Do == do && a.At.Before(c.until()) {
			n++
		}
	}
	return n
}

// until is when the fault is over at the latest.
func (c *Case) until() time.Time {
	_, _, _, end := c.Scenario.span(c.Site.Zone)
	if c.Fault.For == 0 {
		return end
	}
	return c.Fault.At.Add(c.Fault.For)
}

func (c *Case) civil(t time.Time) schedule.Civil { return schedule.CivilIn(t, c.Site.Zone) }

// Longest is the longest that the pump of a bench may run for one flood.
func Longest(l *safety.BenchLimits) time.Duration {
	return l.MaxRun(l.MaxHold)
}

func (c *Case) longest() float64 { return Longest(&c.limits.Benches[c.bench]).Seconds() }

// supply is the most that can be lost while the fault lasts: what the reservoirs
// hold, filled again each day and by everyone who is asked to.
func (c *Case) supply() (litres float64) {
	for i := range c.Site.Reservoirs {
		litres += float64(c.Site.Reservoirs[i].Usable)
	}
	return litres * (2 + math.Ceil(c.until().Sub(c.Fault.At).Hours()/24) + float64(c.acts("top-up")))
}

// pumped is what the pump brings in so many seconds, L.
func (c *Case) pumped(seconds float64) float64 {
	return over * float64(c.Site.Sheet(c.bench).Pumped) / 3600 * seconds
}

// window is what the pump brings before a FULL that does not come stops it.
func (c *Case) window() float64 {
	l := &c.limits.Benches[c.bench]
	if l.Full {
		_, by := l.FillWindow()
		return c.pumped(by.Seconds())
	}
	return c.pumped(c.longest())
}

// table is the most that stands on a table, in litres.
func (c *Case) table(bench int) float64 { return over * float64(c.Site.Sheet(bench).VFlood) }

// ontoThePad: a floor sensor stops the first run, and what is on the table follows.
func ontoThePad(c *Case) float64 { return c.table(c.bench) + 1 }

// untilLatched: FULL that does not come stops a run and latches at the second slot at
// the latest, a third run when a refill of the reservoir passes for the water
// coming home.
func untilLatched(c *Case) float64 { return 3*c.window() + c.table(c.bench) }

// throughTheHose: a hose that is only partly off lets FULL come, and loses its share
// of what the pump brings and of what runs back, at every flood until the reservoir
// is low; so does any without FULL. Where the table drains through the pump its
// fitting is open, too, as long as water stands over it.
func throughTheHose(c *Case) float64 {
	seconds := c.longest() + c.limits.Benches[c.bench].Drain.Seconds()
	out := min(over*c.gap()*seconds, c.table(c.bench)+c.window())
	return c.floods() * ((c.pumped(c.longest())+c.table(c.bench))*c.Fault.Size + out)
}

// gap is what runs out of the fitting of a lost hose under a table as deep as it
// gets, L/s: an orifice of the hose's bore, as far as the hose is off.
func (c *Case) gap() float64 {
	b := &c.Site.Benches[c.bench]
	if !b.Drain.ThroughPump {
		return 0
	}
	bore := float64(b.Supply.Bore)
	return 1000 * math.Pi / 4 * bore * bore * discharge * c.Fault.Size * math.Sqrt(2*9.81*c.deepest())
}

// deepest is how deep a table gets, in metres.
func (c *Case) deepest() float64 {
	return float64(c.Site.Benches[c.bench].Standpipe.Crest + c.Site.Sheet(c.bench).OverflowHead)
}

// missedSoon: where each fill weighs, no more floods run than it takes to miss the
// water and to latch, and as many again whenever a person resets.
func missedSoon(c *Case) float64 {
	n := float64(unheardSoon+2) * float64(1+c.acts("reset"))
	return throughTheHose(c) * min(1, n/c.floods())
}

// overTheRim: without FULL and HIGH the next flood comes on top of the last, and
// only what the reservoir holds ends it.
func overTheRim(c *Case) float64 { return c.supply() }

// setIn: water stands up to HIGH on a table that does not drain, or anywhere up to the
// rim of one without, and no part of a controller keeps people from setting the pots of
// their next batch into it.
func setIn(c *Case) float64 {
	b := &c.Site.Benches[c.bench]
	from, to := c.civil(c.Fault.At).Date(), c.civil(c.until()).Date()
	pots := 0.0
	for i := range c.Site.Batches {
		if p := &c.Site.Batches[i]; p.Bench == c.bench && p.Transplanted >= from && p.Transplanted <= to {
			pots += float64(p.Pots.Count) * math.Pi / 4 * float64(p.Pots.Top*p.Pots.Top*b.Table.Rim)
		}
	}
	room := 0.0
	if b.High != nil {
		room = float64(b.Table.Length * b.Table.Width * (b.Table.Rim - b.High.At))
	}
	return 1000 * max(0, pots-room)
}

// throughTheHole: every flood loses what the hole passes under a table as deep as it
// gets, until it is bare.
func throughTheHole(c *Case) float64 {
	deepest := math.Sqrt(c.deepest() / float64(c.Site.Benches[c.bench].Standpipe.Crest))
	seconds := c.longest() + c.limits.Benches[c.bench].Drain.Seconds()
	return c.floods() * min(over*c.hole()*deepest*seconds, c.table(c.bench)+c.window())
}

// outOfTheTank: nothing holds the water of a reservoir that leaks, 20 L an hour at
// full size.
func outOfTheTank(c *Case) float64 {
	return 20*c.until().Sub(c.Fault.At).Hours()*c.Fault.Size + 1
}

// overTheTank: what was on a table comes home to a reservoir that is full.
func overTheTank(c *Case) (most float64) {
	for i := range c.Site.Benches {
		if c.Site.Reservoirs[c.Site.Benches[i].Reservoir].Name == c.Fault.Where {
			most = max(most, c.table(i))
		}
	}
	return most
}
