package controller

import (
	"slices"
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// Status is a snapshot of the site at one turn.
type Status struct {
	Now        safety.Now
	Calendar   bool // floods follow the calendar; otherwise elapsed time
	HandsIn    bool
	Benches    []BenchStatus
	Batches    []BatchStatus
	Reservoirs []ReservoirStatus
	Left       []safety.LeftBench // benches that left the file, kept until a person has them dropped
}

// BenchStatus is the snapshot of one bench.
type BenchStatus struct {
	Phase       Phase
	Since       time.Duration // boot-time clock when filling, holding or draining began
	Flood       Flood         // the flood under way; meaningful unless Phase is Rest
	Last        Flood         // the last flood with an outcome; its ID is 0 when there was none
	LastProven  time.Time
	Next        schedule.Planned
	HasNext     bool
	Skipped     []schedule.Planned // floods to come that a person left out; without a slot while floods follow elapsed time
	Queued      int
	Paused      bool
	PausedUntil time.Time
	PausedBy    string         // empty when nobody said
	Sanitising  time.Time      // since when; zero while it is off
	Start       safety.Refusal // why a flood would be refused now
	Latched     []safety.Trip
	Weld        bool // its pump relay is proven welded
	Full, High  safety.Level
	Empty, Leak safety.Level
	Water       safety.WaterState
}

// BatchStatus is the snapshot of one batch.
type BatchStatus struct {
	Since   time.Duration // since the last flood that counted
	NoFlood bool          // none has: since it came, or the program began
	CanWait time.Duration // what its stage allows
	Limit   time.Duration // what the crop clock runs against: CanWait, or how long its pots last
	Pots    bool          // it is how long its pots last in hot weather
	Ratio   float64       // Since over Limit

	Stands   bool // in a stage today
	Stage    int  // index in its plan; meaningful when Stands
	Due      int  // the stage that its age alone gives it; meaningful when Stands
	Closed   schedule.Date
	Passages []schedule.Passage
}

// ReservoirStatus is what is believed of one reservoir.
type ReservoirStatus struct {
	Low    safety.Level
	Level  safety.Level     // the switch that only weighs
	Litres safety.Litres    // tables empty, less what a flood under way took; where Basis is Unknown what a made switch proves, else 0
	Give   safety.Litres    // 19 in 20 lie so near to it; 0 where Basis is Unknown
	Span   [2]safety.Litres // between these it lies, 19 in 20; 0 where Basis is Unknown
	Whole  safety.Litres    // Litres with what a flood under way may have lifted: that is known to Give, how much of it is out is not; 0 while none is
	Basis  Basis
	Since  time.Time // when it was weighed or noted last; since when nothing is known

	Had     safety.Litres // what it held at HadAt, when that was last known; meaningful while Basis is Unknown
	HadAt   time.Time     // zero where it never was
	Missing Unexplained   // water that is lost; Asked while a person may say where it is
	Came    Unexplained   // water that nobody wrote down

	Thermometer bool           // one is fitted
	Temperature safety.Celsius // of the solution; meaningful when Believed
	Believed    bool
}

// StatusInto fills st with the snapshot after the last Step; its slices are
// reused.
func (c *Controller) StatusInto(st *Status) {
	st.Now, st.Calendar, st.HandsIn = c.now, c.clock.calendar(), c.view != nil && c.view.HandsIn
	st.Left = nil
	if c.view != nil {
		st.Left = c.view.Left
	}
	st.Benches = slices.Grow(st.Benches[:0], len(c.benches))[:len(c.benches)]
	for b := range c.benches {
		c.benchStatus(b, &st.Benches[b])
	}
	st.Batches = slices.Grow(st.Batches[:0], len(c.crops))[:len(c.crops)]
	for i := range c.crops {
		wait, _ := c.canWait(i)
		l, _ := c.limit(i)
		st.Batches[i] = BatchStatus{
			Since: c.now.Mono - c.crops[i].since, NoFlood: c.crops[i].noFlood, CanWait: wait,
			Limit: l.wait, Pots: l.pots, Ratio: c.CropRatio(i),
		}
		c.stageStatus(i, &st.Batches[i])
	}
	st.Reservoirs = slices.Grow(st.Reservoirs[:0], len(c.drawing))[:len(c.drawing)]
	for r := range st.Reservoirs {
		st.Reservoirs[r] = c.reservoirStatus(r)
	}
}

func (c *Controller) stageStatus(i int, st *BatchStatus) {
	b := &c.setup.Batches[i]
	st.Stage, st.Stands = b.StageOn(c.setup.Plans[b.Plan], c.today())
	st.Due, _ = b.ByAge(c.setup.Plans[b.Plan], c.today())
	st.Closed, st.Passages = b.Closed, b.Passages
}

func (c *Controller) benchStatus(b int, st *BenchStatus) {
	s := &c.benches[b]
	st.Phase, st.Flood, st.Last, st.LastProven = s.phase, s.run.flood, s.last, s.lastProven
	st.Queued, st.Paused, st.PausedUntil = len(s.queue), s.pause.on, s.pause.untilWall
	st.PausedBy = s.pause.by
	st.Sanitising = s.sanitising.since
	st.HasNext = false
	if c.clock.calendar() {
		st.Next, st.HasNext = c.nextFlood(b)
	}
	st.Skipped = st.Skipped[:0]
	for i := range s.skips {
		if p, ok := c.skipped(b, i); ok {
			st.Skipped = append(st.Skipped, p)
		}
	}
	if c.view == nil {
		return
	}
	v := &c.view.Benches[b]
	st.Start, st.Water = v.Start, v.Water
	st.Since = phaseSince(s.phase, v)
	st.Latched, st.Weld = append(st.Latched[:0], v.Latched...), v.Weld
	st.Full, st.High, st.Empty, st.Leak = v.Full.Level, v.High.Level, v.Empty.Level, v.Leak.Level
}

// phaseSince is when filling, holding or draining began.
func phaseSince(p Phase, v *safety.BenchView) time.Duration {
	switch p {
	case Filling:
		return v.Started
	case Holding:
		return v.FullAt
	case Draining:
		return v.Stopped
	}
	return 0
}

// reservoirStatus is what was weighed or noted, less what plants are expected to
// have used since; a switch that shows less or more corrects it. What nobody
// weighed is not known, but for what a made switch proves.
func (c *Controller) reservoirStatus(r int) ReservoirStatus {
	l, t := &c.setup.Limits.Reservoirs[r], &c.tanks[r]
	st := ReservoirStatus{
		Low: safety.Absent, Level: safety.Absent, Litres: t.Litres, Give: t.Give, Basis: t.Basis, Since: t.Since, Thermometer: l.Thermometer,
		Had: t.Had, HadAt: t.HadAt, Missing: t.Missing, Came: t.Came,
	}
	if c.view != nil {
		v := &c.view.Reservoirs[r]
		st.Low, st.Level, st.Temperature, st.Believed = v.Low.Level, v.Level.Level, v.Temperature, v.Believed
	}
	out := c.out(r)
	if l.Low && out > 0 && st.Basis == Unknown {
		st.Litres = l.LowAt // no flood starts without it
	}
	if st.Basis != Unknown {
		st.Span = [2]safety.Litres{max(0, st.Litres-st.Give), st.Litres + st.Give}
	}
	if out == 0 {
		st.shown(st.Low, l.LowAt)
		st.shown(st.Level, l.LevelAt)
	}
	if out > 0 {
		st.Whole = st.Litres
	}
	st.Litres, st.Span[0] = max(0, st.Litres-out), max(0, st.Span[0]-out)
	return st
}

// shown corrects what is believed by a switch that turns at so many litres, with
// every table empty.
func (st *ReservoirStatus) shown(level safety.Level, at safety.Litres) {
	switch {
	case level == safety.Wet:
		st.Litres = max(st.Litres, at)
		if st.Basis != Unknown {
			st.Span = [2]safety.Litres{max(st.Span[0], at), max(st.Span[1], at)}
		}
	case level == safety.Dry && st.Basis != Unknown:
		st.Litres = min(st.Litres, at)
		st.Span = [2]safety.Litres{min(st.Span[0], at), min(st.Span[1], at)}
	}
}

// out is what floods of a reservoir under way have lifted, at the most.
func (c *Controller) out(r int) (litres safety.Litres) {
	for _, b := range c.drawing[r] {
		if c.benches[b].phase > Recording {
			litres += c.limits(b).Flood
		}
	}
	return litres
}
