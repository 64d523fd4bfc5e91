package controller

import (
	"fmt"
	"math"
	"time"

	"benchtide/safety"
)

// What weighings cannot explain a person may: water that is missing was taken
// out, water that came was poured in, or nobody touched it. Each is asked about
// once and answered once, however many people answer.

// Answer is what a person said of water that weighings cannot explain.
type Answer string

// The answers.
const (
	Open     Answer = ""          // nobody has said anything
	TakenOut Answer = "taken-out" // a person took it
	Poured   Answer = "poured"    // a person poured it in
	Nobody   Answer = "nobody"    // nobody did
	Undone   Answer = "undone"    // what is missing came back by itself: it had been written down too early
)

// Unexplained is water of one reservoir that went or came.
type Unexplained struct {
	Litres safety.Litres `json:"litres"` // 0 while there is none
	Bench  string        `json:"bench"`  // whose floods lost it; empty where it is the reservoir's
	From   time.Time     `json:"from"`   // of the weighing before
	At     time.Time     `json:"at"`     // of the weighing that showed it, or when it showed
	Answer Answer        `json:"answer"`
	By     string        `json:"by"`   // who said so
	Said   time.Time     `json:"said"` // and when
}

// Asked reports whether a person may still say where it went or came from.
func (u *Unexplained) Asked() bool { return u.Litres > 0 && u.Answer == Open }

// near reports whether so many litres are those that a person was shown, which
// are rounded.
func (u *Unexplained) near(shown safety.Litres) bool {
	return math.Abs(float64(shown-u.Litres)) <= max(0.5, float64(u.Litres)/20) // what people are shown is rounded
}

func (u *Unexplained) answer(a Answer, by string, at time.Time) {
	u.Answer, u.By, u.Said = a, by, at
}

// Booking is what the diary is to say of a reservoir's water.
type Booking struct {
	Reservoir int
	At        time.Time     // of the weighing that showed it
	Litres    safety.Litres // that came, or below 0 that were taken out
	Withdrawn bool          // the top-up that was booked for At was none
}

// ErrOtherLitres says that an answer is about litres that are not those asked
// about any more.
type ErrOtherLitres struct{ Reason string }

func (e ErrOtherLitres) Error() string { return e.Reason }

// TookOut takes a person's word that the water which reservoir k lost was taken
// out. shown is how much the person was told of; 0 means all of it. Said a second
// time it changes nothing, and first is false. What is latched stays latched.
func (c *Controller) TookOut(now safety.Now, k int, shown safety.Litres, by string) (u Unexplained, first bool, err error) {
	c.now = now
	t, name := &c.tanks[k], c.setup.Limits.Reservoirs[k].Name
	u = t.Missing
	switch {
	case u.Litres <= 0:
		return u, false, fmt.Errorf("took out of %s: no water is missing there by its weighings", name)
	case shown > 0 && !u.near(shown):
		return u, false, ErrOtherLitres{fmt.Sprintf("took out of %s: %s are missing there since %s: say it again if you took all of that", name, c.volume(u.Litres), c.local(u.From))}
	case u.Answer != Open:
		return u, false, nil
	}
	t.Missing.answer(TakenOut, by, now.Wall)
	t.Loss = loss{}
	c.dryOut(k)
	c.book(Booking{Reservoir: k, At: u.At, Litres: -u.Litres}, asSaid(by, fmt.Sprintf("taken out, missing since %s", c.local(u.From))))
	c.withdrawLoss(k, &u)
	return t.Missing, true, nil
}

// withdrawLoss tells that water of which people were told is accounted for.
func (c *Controller) withdrawLoss(k int, u *Unexplained) {
	name := c.setup.Limits.Reservoirs[k].Name
	p := Parts{Happened: fmt.Sprintf("%s: the %s that were missing are accounted for.", c.tank(k), c.volume(u.Litres))}
	for _, b := range c.drawing[k] {
		if c.name(b) == u.Bench {
			c.tellGone(ThisWeek, b, LostCause, p)
			return
		}
	}
	c.tellGone(ThisWeek, -1, LostCause+"-"+name, p)
}

// ToppedUpOrNot takes a person's word on the water that came into reservoir k and
// that nobody wrote down: it was poured in, or nobody poured. shown and first are
// those of TookOut; a word that differs from an earlier one counts.
func (c *Controller) ToppedUpOrNot(now safety.Now, k int, poured bool, shown safety.Litres, by string) (u Unexplained, first bool, err error) {
	c.now = now
	t, name := &c.tanks[k], c.setup.Limits.Reservoirs[k].Name
	u = t.Came
	switch {
	case u.Litres <= 0:
		return u, false, fmt.Errorf("top-up of %s: no water came there by its weighings that nobody wrote down", name)
	case shown > 0 && !u.near(shown):
		return u, false, ErrOtherLitres{fmt.Sprintf("top-up of %s: %s came there since %s: say it again of those", name, c.volume(u.Litres), c.local(u.From))}
	case poured && u.Answer == Poured, !poured && u.Answer == Nobody:
		return u, false, nil
	case poured:
		t.Came.answer(Poured, by, now.Wall)
		if u.Answer == Nobody {
			c.bookCame(k)
		}
		return t.Came, true, nil
	}
	t.Came.answer(Nobody, by, now.Wall)
	c.book(Booking{Reservoir: k, At: u.At, Withdrawn: true}, asSaid(by, fmt.Sprintf("nobody poured in the %s that seemed to come", c.volume(u.Litres))))
	if t.Last.At.Equal(u.At) {
		t.Voided = true
		c.forget(k) // a weighing that cannot be
	}
	c.tell(Today, -1, cameCause(name), Parts{
		Happened: fmt.Sprintf("%s: %s seemed to come since %s, and nobody poured them in.", name, c.volume(u.Litres), c.local(u.From)),
		Done:     "They are not booked, and what it holds is not known until the next flood that weighs it.",
		Do:       "See whether water runs in by itself, and that its switch floats freely.",
	})
	return t.Came, true, nil
}

func asSaid(by, text string) string {
	if by == "" {
		return text
	}
	return text + ", as " + by + " says"
}

func cameCause(reservoir string) string { return "came-" + reservoir }

func (c *Controller) book(b Booking, text string) {
	c.dirty = true
	c.emit(Event{Kind: WaterBooked, Bench: -1, Output: -1, Booking: b, Text: text})
}

// bookCame books the water that came as a top-up.
func (c *Controller) bookCame(k int) {
	u := &c.tanks[k].Came
	c.book(Booking{Reservoir: k, At: u.At, Litres: u.Litres}, "came between two weighings, and nobody wrote it down")
}

// came takes in that more water came between two weighings than can have been
// written down. Where so much was missing just before, it had only been written
// down before it was poured.
func (c *Controller) came(w *Weighing) {
	t := &c.tanks[w.Reservoir]
	w.Came += t.Lacked.Normal // which the plants drank meanwhile
	if m := &t.Missing; m.Asked() && m.At.Equal(t.Last.At) && t.Last.Noted > 0 && math.Abs(float64(m.Litres-w.Came)) <= 2*float64(c.margin(t.Last.Bench)) {
		gone := *m
		m.answer(Undone, "", c.now.Wall)
		c.withdrawLoss(w.Reservoir, &gone)
		return
	}
	t.Came = Unexplained{Litres: w.Came, From: t.Last.At, At: w.At}
	c.bookCame(w.Reservoir)
	c.tellOfCame(w)
}

// missing notes water that is lost, as a person is told of it: what floods of one
// bench lose one after the other is one loss.
func (c *Controller) missing(k int, bench string, litres safety.Litres, from, at time.Time, more bool) {
	m := &c.tanks[k].Missing
	if more && m.Asked() && m.Bench == bench {
		m.Litres, m.At = m.Litres+litres, at
		return
	}
	*m = Unexplained{Litres: litres, Bench: bench, From: from, At: at}
}

// late takes in a top-up that was poured before the last weighing and written down
// after it; false where it came at another time.
func (c *Controller) late(k int, litres safety.Litres, at time.Time) bool {
	t := &c.tanks[k]
	if t.Last.Flood == 0 || !t.Last.Trusted || !c.now.Trusted || !at.Before(t.Last.At) {
		return false
	}
	b := &t.Before
	switch {
	case t.Came.Litres > 0 && t.Came.Answer != Nobody && !at.Before(t.Came.From) && at.Before(t.Came.At):
		if t.Came.Answer == Open {
			t.Came.answer(Poured, "", c.now.Wall)
			c.book(Booking{Reservoir: k, At: t.Came.At, Withdrawn: true}, "written down by hand since")
		}
	case !at.Before(b.From): // without one there is no bench
		c.rejudge(k, litres)
	}
	return true
}

// rejudge judges the last pair of weighings anew: so much more had come between
// them.
func (c *Controller) rejudge(k int, litres safety.Litres) {
	t := &c.tanks[k]
	bench := t.Before.bench(c, k)
	if bench < 0 {
		return
	}
	told := t.Before.Over > c.margin(bench)
	t.Before.Over += litres
	switch {
	case told && t.Missing.Asked():
		t.Loss.Litres, t.Missing.Litres = t.Loss.Litres+litres, t.Missing.Litres+litres
	case !told && t.Before.Over > c.margin(bench):
		c.lost(bench, t.Before.Over, t.Before.From, t.Last.At)
	}
	c.dirty = true
}

// bench is the bench of a stretch; -1 where it has left the reservoir.
func (s *stretch) bench(c *Controller, k int) int {
	for _, b := range c.drawing[k] {
		if c.name(b) == s.Bench {
			return b
		}
	}
	return -1
}
