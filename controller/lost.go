package controller

import (
	"fmt"
	"math"
	"time"

	"benchtide/controller/quantity"
	"benchtide/safety"
)

// Between the weighings of two floods that follow each other no more can have
// gone than the pots of the first lacked, on the hottest days. What is above that
// by more than weighings err is lost; twice in a row it latches.

const (
	// lostShare of V_flood is more than weighings and forecasts err together
	// (measured on simulated sites).
	lostShare      = 0.05
	lostShareRough = 0.08 // where several benches weigh one reservoir, or a thick float does
	homeFactor     = 3    // halves of T_drain after the stop in which water is home
)

// loss is water that went unexplained, flood after flood.
type loss struct {
	Bench  string        `json:"bench"`
	Floods int           `json:"floods"` // in a row; 0 while none is lost
	Litres safety.Litres `json:"litres"` // more than the plants can have drunk, of all of them
	From   time.Time     `json:"from"`
}

// stretch is what a pair of weighings showed, lost or not.
type stretch struct {
	Over  safety.Litres `json:"over"`  // more than the plants can have drunk; below 0 as a rule
	Hours float64       `json:"hours"` // between the two; 0 without a pair
	Bench string        `json:"bench"` // of the first of them
	From  time.Time     `json:"from"`  // when that began
}

// homecoming waits for a low switch to be made again after a weighed flood.
type homecoming struct {
	at   safety.Litres // of the switch
	band safety.Litres // by which it may turn back lower or higher than it is taken to: so much a weighing may be off
	by   time.Duration // 0 while nothing is waited for
}

// margin is how much more than can have been drunk is lost for certain.
func (c *Controller) margin(b int) safety.Litres {
	share := safety.Litres(lostShare)
	if k := c.limits(b).Reservoir; len(c.drawing[k]) > 1 || c.thick(k) {
		share = lostShareRough
	}
	return share * c.limits(b).Flood
}

// pair holds a weighing against the one before.
func (c *Controller) pair(w *Weighing) {
	t := &c.tanks[w.Reservoir]
	last := &t.Last
	switch {
	case t.Judged: // by the switch that was not made again
		return
	case last.Flood == 0 || t.Voided || t.Floods < 1 || !last.Trusted || !w.Trusted || !w.At.After(last.At):
		t.Loss, t.Before = loss{}, stretch{}
		return
	case t.Floods > 1:
		t.Loss, t.Before = loss{}, stretch{}
		c.pairFar(w)
		return
	}
	gone := last.Litres + t.Noted - w.Litres
	if margin := c.margin(last.Bench); gone < -margin {
		w.Came = -gone
		t.Loss, t.Before = loss{}, stretch{}
		c.came(w)
		return
	}
	w.Gone, w.Over, w.Paired = gone, gone-t.Lacked.Hottest, true
	c.judge(last.Bench, w.Bench, stretch{Over: w.Over, Hours: w.At.Sub(last.At).Hours(), Bench: c.name(last.Bench), From: last.At}, w.At)
}

// farthest is how many floods may lie between two weighings that are held against each
// other.
const farthest = 8

// pairFar holds a weighing against one with other floods since, as where each refill
// brings the water back over the switch for one flood. Which of them lost it nobody can
// say, so that it is told and latches nothing.
func (c *Controller) pairFar(w *Weighing) {
	t := &c.tanks[w.Reservoir]
	over := t.Last.Litres + t.Noted - w.Litres - t.Lacked.Hottest - t.Rest
	if t.Floods > farthest || over <= safety.Litres(t.Floods)*c.margin(t.Last.Bench) {
		return
	}
	place, bench, who := c.tank(w.Reservoir), -1, ""
	if len(c.drawing[w.Reservoir]) == 1 {
		place, bench, who = c.called(t.Last.Bench), t.Last.Bench, c.name(t.Last.Bench)
	}
	c.missing(w.Reservoir, who, over, t.Last.At, w.At, false)
	c.tell(Today, bench, LostCause, Parts{
		Happened: fmt.Sprintf("%s: %s more than the plants can have drunk went in %d floods since %s.", place, c.volume(over), t.Floods, c.local(t.Last.At)),
		Do:       "Look for water under the table, at the hose and at the reservoir. " + c.orTookOut(w.Reservoir),
	})
}

// judge says whether a flood of bench b, or the reservoir meanwhile, lost water, as
// the weighing of a time shows, made by a bench.
func (c *Controller) judge(b, by int, s stretch, at time.Time) {
	k := c.limits(b).Reservoir
	t := &c.tanks[k]
	t.Slow = max(0, t.Slow+s.Over-slowDrift*c.margin(b))
	before := t.Before
	t.Before = s
	c.dirty = true
	switch {
	case s.Over <= c.margin(b):
		t.Loss = loss{}
		c.seep(b, by, s, at)
	case byTime(before, s):
		t.Loss = loss{}
		c.missing(k, "", s.Over, s.From, at, false)
		c.tellOfTank(k, s)
	default:
		c.lost(b, s.Over, s.From, at)
	}
}

// lost notes what a flood of bench b lost, tells of it, and at the second flood
// in a row has the bench latched.
func (c *Controller) lost(b int, litres safety.Litres, from, at time.Time) {
	k := c.limits(b).Reservoir
	l := &c.tanks[k].Loss
	if l.Bench != c.name(b) {
		*l = loss{Bench: c.name(b), From: from}
	}
	l.Floods++
	l.Litres += litres
	c.missing(k, c.name(b), litres, from, at, l.Floods > 1)
	detail := fmt.Sprintf("%s more than the plants can have drunk went in the flood of %s", c.volume(litres), c.local(from))
	if l.Floods > 1 {
		detail = fmt.Sprintf("%s more than the plants can have drunk went in the last %d floods, since %s", c.volume(l.Litres), l.Floods, c.local(l.From))
	}
	if l.Floods > 1 && !c.canLose(b) {
		c.emit(Event{Kind: WaterLost, Bench: b, Output: -1, Text: detail})
		return // the guard's latch is told of
	}
	c.tell(Today, b, LostCause, Parts{
		Happened: c.called(b) + ": " + detail + ".",
		Do:       "Look for water under the table and at the hose. " + c.orTookOut(k),
	})
}

// volume is one of water as people read it.
func (c *Controller) volume(l safety.Litres) string { return c.setup.Units.Weighed(quantity.Litres(l)) }

// orTookOut says how a person says that nothing is lost.
func (c *Controller) orTookOut(k int) string {
	return fmt.Sprintf("If you took it out, say so: on the page, or by benchtide took-out %s.", c.setup.Limits.Reservoirs[k].Name)
}

// tellOfTank tells of water that a reservoir lost while no flood ran.
func (c *Controller) tellOfTank(k int, s stretch) {
	name := c.setup.Limits.Reservoirs[k].Name
	c.tell(Today, -1, LostCause+"-"+name, Parts{
		Happened: fmt.Sprintf("%s: %s more than the plants can have drunk went since %s, as the hours passed and not as floods ran.", c.tank(k), c.volume(s.Over), c.local(s.From)),
		Do:       "Look for a leak of the reservoir and its fittings. " + c.orTookOut(k),
	})
}

// LostCause is the cause of messages about lost water that latch nothing.
const LostCause = "lost"

// byTime reports whether water went with the hours rather than with the floods, as
// the stretch before shows; where the hours were alike nothing tells.
func byTime(before, now stretch) bool {
	if before.Hours <= 0 || max(before.Hours, now.Hours) < 2*min(before.Hours, now.Hours) {
		return false
	}
	byFlood := math.Abs(float64(before.Over - now.Over))
	byHour := math.Abs(float64(before.Over) - float64(now.Over)*before.Hours/now.Hours)
	return byHour < byFlood
}

// canLose reports whether the floor of the site takes a spill and what is left
// still makes a flood, so that the crop need not go without.
func (c *Controller) canLose(b int) bool {
	l := c.limits(b)
	r := &c.setup.Limits.Reservoirs[l.Reservoir]
	return c.setup.Limits.FloorDrained && c.tanks[l.Reservoir].Litres >= l.Flood+r.Keep
}

// watchHome judges a weighed flood whose switch is not made again in time: what
// is gone is at least what it held above that switch.
func (c *Controller) watchHome(k int) {
	t := &c.tanks[k]
	if t.home.by == 0 {
		return
	}
	l, r := &c.setup.Limits.Reservoirs[k], &c.view.Reservoirs[k]
	sw := r.Low
	if l.Level && t.home.at == l.LevelAt {
		sw = r.Level
	}
	empty, _ := c.tablesEmpty(k)
	switch {
	case sw.Level != safety.Dry || t.Floods != 1 || t.Noted > 0 || len(c.view.Benches[t.Last.Bench].Latched) > 0:
		// home, topped up, or what keeps it on the table has been told of
		t.home.by = 0
	case c.now.Mono < t.home.by || !empty:
		c.wakeAt(t.home.by)
	default:
		t.home.by = 0
		b := t.Last.Bench
		if over := t.Last.Litres - t.home.at - t.home.band - t.Lacked.Hottest; over > c.margin(b) {
			t.Judged = true
			c.know(k, min(t.Litres, t.home.at), t.Give, Expected)
			c.lost(b, over, t.Last.At, c.now.Wall)
		}
	}
}

// tellOfCame asks about water that nobody wrote down.
func (c *Controller) tellOfCame(w *Weighing) {
	name := c.setup.Limits.Reservoirs[w.Reservoir].Name
	c.tell(ThisWeek, -1, cameCause(name), Parts{
		Happened: fmt.Sprintf("%s: about %s came since %s that nobody wrote down.", c.tank(w.Reservoir), c.volume(w.Came), c.local(c.tanks[w.Reservoir].Last.At)),
		Done:     "They are booked as a top-up.",
		Do:       fmt.Sprintf("If nobody poured them in, say so: on the page, or by benchtide topped-up no %s. Write top-ups down, so that lost water shows.", name),
	})
}
