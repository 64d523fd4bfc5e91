package safety

import (
	"slices"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	sec  = time.Second
	mins = time.Minute
	tick = time.Millisecond
	// ready is when a bench of the rig may start for the first time.
	ready = 10 * mins
)

// site returns the limits of a site: benches on one reservoir, each with its
// own pump, all behind one enable relay, with a stirrer and a lamp besides.
// Outputs: 0 enable, 1 lamp, 2 stirrer, 3 and on the flood pumps.
func site(benches int) Limits {
	l := Limits{
		Outputs: []OutputLimits{
			{Name: "enable", Kind: Enable, Enable: -1},
			{Name: "lamp", Kind: Other, Enable: -1},
			{Name: "stirrer", Kind: Stirrer, Enable: 0},
		},
		Reservoirs: []ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20, LowAt: 180, Thermometer: true}},
		Stirrers:   []StirrerLimits{{Output: 2, Reservoir: 0, BeforeFlood: 10 * mins}},
	}
	for i := range benches {
		l.Outputs = append(l.Outputs, OutputLimits{Name: names[i] + "_pump", Kind: FloodPump, Enable: 0})
		l.Benches = append(l.Benches, BenchLimits{
			Name: names[i], Pump: 3 + i, Full: true, High: true,
			Fill: 200 * sec, Fall: 100 * sec, Drain: 10 * mins, Over: 2 * mins,
			MaxHold: 5 * mins, Flow: 0.5, Flood: 100,
		})
	}
	return l
}

var names = []string{"north", "south", "west"}

const enableOut, lampOut, stirOut = 0, 1, 2

// tester is a test, or one trial of a property.
type tester interface {
	require.TestingT
	Helper()
}

// rig drives a guard through virtual time.
type rig struct {
	t      tester
	l      Limits
	g      *Guard
	now    Now
	r      *Readings
	w      *Want
	view   *View
	cmd    Command
	events []Event
	frozen bool // readings keep their age
}

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func newRig(t tester, l Limits) *rig {
	rg := &rig{t: t, l: l, now: Now{Wall: noon, Trusted: true}, r: NewReadings(l), w: NewWant(l)}
	for i, b := range l.Benches {
		fit := func(r *Reading, fitted bool) {
			if fitted {
				r.Level = Dry
			}
		}
		fit(&rg.r.Benches[i].Full, b.Full)
		fit(&rg.r.Benches[i].High, b.High)
		fit(&rg.r.Benches[i].Empty, b.Empty)
		fit(&rg.r.Benches[i].Leak, b.Leak)
	}
	for k, t := range l.Reservoirs {
		if t.Low {
			rg.r.Reservoirs[k].Low.Level = Wet
		}
		rg.r.Reservoirs[k].Temperature, rg.r.Reservoirs[k].TemperatureOK = 18, t.Thermometer
	}
	rg.g = New(l, State{}, rg.now, "boot-1")
	rg.turn()
	return rg
}

// rigWith is the rig of a site of one bench that with has changed.
func rigWith(t tester, with func(*Limits)) *rig {
	l := site(1)
	with(&l)
	return newRig(t, l)
}

// handsIn is a rig with a person in the bench.
func handsIn(t tester, l Limits) *rig {
	rg := newRig(t, l)
	rg.to(ready)
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	return rg
}

// turn runs one turn at the present time.
func (rg *rig) turn() {
	if !rg.frozen {
		for i := range rg.r.Benches {
			b := &rg.r.Benches[i]
			for _, r := range []*Reading{&b.Full, &b.High, &b.Empty, &b.Leak} {
				if r.Level == Dry || r.Level == Wet {
					r.At = rg.now.Mono
				}
			}
		}
		for k := range rg.r.Reservoirs {
			if low := &rg.r.Reservoirs[k].Low; low.Level == Dry || low.Level == Wet {
				low.At = rg.now.Mono
			}
		}
	}
	rg.view = rg.g.Observe(rg.now, rg.r)
	rg.cmd = rg.g.Allow(rg.now, rg.w)
	rg.events = append(rg.events, rg.g.TakeEvents()...)
	require.False(rg.t, rg.g.Next() < rg.now.Mono, "the guard asks for a turn in the past")
	rg.g.Planned(rg.g.Next())
}

// to jumps to a time with a turn wherever the guard asks for one and at the end.
func (rg *rig) to(mono time.Duration) {
	rg.t.Helper()
	for turns := 0; ; turns++ {
		require.Less(rg.t, turns, 10000, "the guard never lets time pass")
		next := min(rg.g.Next(), mono)
		rg.step(next)
		rg.turn()
		if next == mono && rg.g.Next() > mono {
			return
		}
	}
}

// arrive jumps to a time whose turn is still to come, for a change in that very turn.
func (rg *rig) arrive(mono time.Duration) {
	rg.t.Helper()
	rg.to(mono - 1)
	rg.step(mono)
}

func (rg *rig) step(mono time.Duration) {
	rg.now.Wall = rg.now.Wall.Add(mono - rg.now.Mono)
	rg.now.Mono = mono
}

func (rg *rig) wait(d time.Duration) {
	rg.t.Helper()
	rg.to(rg.now.Mono + d)
}

func (rg *rig) full(i int, l Level)  { rg.r.Benches[i].Full.Level = l; rg.wait(0) }
func (rg *rig) high(i int, l Level)  { rg.r.Benches[i].High.Level = l; rg.wait(0) }
func (rg *rig) empty(i int, l Level) { rg.r.Benches[i].Empty.Level = l; rg.wait(0) }
func (rg *rig) leak(i int, l Level)  { rg.r.Benches[i].Leak.Level = l; rg.wait(0) }
func (rg *rig) low(l Level)          { rg.r.Reservoirs[0].Low.Level = l; rg.wait(0) }

// want asks for a run of bench i.
func (rg *rig) want(i int, flood int64, hold time.Duration) {
	rg.w.Benches[i] = RunWant{Pump: true, Flood: flood, Hold: hold}
	rg.wait(0)
}

func (rg *rig) unwant(i int) { rg.w.Benches[i].Pump = false; rg.wait(0) }

// flood starts flood of bench i, when it is ready, and shows that it runs.
func (rg *rig) flood(i int, flood int64) {
	rg.t.Helper()
	rg.to(max(rg.now.Mono, ready))
	rg.want(i, flood, 5*mins)
	require.True(rg.t, rg.pump(i), "the pump starts: %+v", rg.g.permissive(i))
	require.True(rg.t, rg.cmd.On(enableOut) || rg.l.Outputs[enableOut].Kind != Enable)
}

// filled starts a flood and lets FULL make after its fill.
func (rg *rig) filled(i int, flood int64) {
	rg.t.Helper()
	rg.flood(i, flood)
	rg.wait(rg.l.Benches[i].Fill)
	rg.full(i, Wet)
	rg.wait(sec)
}

func (rg *rig) pump(i int) bool   { return rg.cmd.On(rg.l.Benches[i].Pump) }
func (rg *rig) b(i int) BenchView { rg.wait(0); return rg.view.Benches[i] }
func (rg *rig) start(i int) Refusal {
	rg.t.Helper()
	return rg.b(i).Start
}

// tripped asserts that bench i was stopped by why.
func (rg *rig) tripped(i int, why Interlock, latched bool) {
	rg.t.Helper()
	assert.False(rg.t, rg.pump(i), "the pump is off")
	trip := rg.b(i).Trip
	assert.Equal(rg.t, why, trip.Interlock)
	assert.Equal(rg.t, latched, trip.Latched)
	assert.NotEmpty(rg.t, trip.Detail)
	assert.Equal(rg.t, latched, rg.latched(i, why), "latched")
	assert.True(rg.t, rg.told(Tripped, i, why))
}

func (rg *rig) latched(i int, why Interlock) bool {
	return slices.ContainsFunc(rg.b(i).Latched, func(t Trip) bool { return t.Interlock == why })
}

func (rg *rig) told(kind EventKind, bench int, why Interlock) bool {
	return rg.count(kind, bench, why) > 0
}

func (rg *rig) count(kind EventKind, bench int, why Interlock) (n int) {
	for _, e := range rg.events {
		if e.Kind == kind && e.Bench == bench && e.Interlock == why {
			n++
		}
	}
	return n
}

// restart ends the program without notice and starts it again after off. A
// new boot begins its clock at zero.
func (rg *rig) restart(off time.Duration, boot string) {
	s := rg.g.State()
	rg.now.Wall = rg.now.Wall.Add(off)
	rg.now.Mono += off
	if boot != s.Boot {
		rg.now.Mono = 0
	}
	rg.w = NewWant(rg.l)
	rg.g = New(rg.l, s, rg.now, boot)
	rg.turn()
}
