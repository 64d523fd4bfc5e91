package safety

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// chance drives a guard with whatever may come and holds each Command against
// rules that are worked out from readings, wants and commands alone.
type chance struct {
	*rapid.T
	*rig
	boot   int
	out    []outside
	stir   time.Duration // since when the stirrer is on
	before Command
	tally  *tallies
}

// outside is what an observer sees of one bench.
type outside struct {
	on      bool
	started time.Duration
	stopped time.Duration
	starts  []time.Duration
	latched []Interlock
}

type tallies struct{ starts, fulls, highs, latches, resets, restarts int }

func TestWhateverHappensThePumpsStayWithinTheRules(t *testing.T) {
	var tally tallies
	rapid.Check(t, func(rt *rapid.T) {
		l := anySite(rt)
		c := &chance{T: rt, rig: newRig(rt, l), tally: &tally}
		c.out = make([]outside, len(l.Benches))
		rt.Repeat(map[string]func(*rapid.T){
			"time passes":     c.timePasses,
			"a guard's time":  c.guardsTime,
			"a run is wanted": c.runWanted,
			"all is well":     c.allIsWell,
			"water rises":     c.waterRises,
			"a switch":        c.anySwitch,
			"stirring":        func(t *rapid.T) { c.w.Stir[0] = rapid.Bool().Draw(t, "stir") },
			"hands in":        func(t *rapid.T) { c.g.SetHandsIn(c.now, rapid.IntRange(0, 3).Draw(t, "on") == 0) },
			"reset":           c.resetAny,
			"verdict":         func(t *rapid.T) { c.g.FloodEnded(c.anyBench(t), rapid.Bool().Draw(t, "proven")) },
			"restart":         c.startAgain,
			"wall clock":      func(t *rapid.T) { c.now.Wall = noon.Add(time.Duration(rapid.Int64().Draw(t, "wall"))) },
			"":                c.check,
		})
	})
	t.Logf("%+v", tally)
	for name, n := range map[string]int{
		"starts": tally.starts, "fulls": tally.fulls, "highs": tally.highs,
		"latches": tally.latches, "resets": tally.resets, "restarts": tally.restarts,
	} {
		assert.Positive(t, n, "chance brought no %s, so nothing was shown of them", name)
	}
}

func anySite(t *rapid.T) Limits {
	l := site(3)
	two := rapid.Bool().Draw(t, "two reservoirs")
	l.FloorDrained = rapid.Bool().Draw(t, "drained floor")
	l.Reservoirs[0].Low = rapid.Bool().Draw(t, "low")
	if two {
		l.Reservoirs = append(l.Reservoirs, l.Reservoirs[0])
		l.Benches[2].Reservoir = 1
	}
	if rapid.Bool().Draw(t, "two relays") {
		l.Outputs[l.Benches[2].Pump].Enable = len(l.Outputs)
		l.Outputs = append(l.Outputs, OutputLimits{Name: "enable_west", Kind: Enable, Enable: -1})
	}
	for i := range l.Benches {
		b := &l.Benches[i]
		b.Full = rapid.IntRange(0, 3).Draw(t, "full") > 0
		b.High = rapid.IntRange(0, 3).Draw(t, "high") > 0
		b.Empty = rapid.IntRange(0, 3).Draw(t, "empty") == 0
		b.Leak = rapid.IntRange(0, 3).Draw(t, "leak") == 0
	}
	if rapid.IntRange(0, 3).Draw(t, "enable") == 0 {
		noEnable(&l)
	}
	return l
}

func (c *chance) anyBench(t *rapid.T) int {
	return rapid.IntRange(0, len(c.l.Benches)-1).Draw(t, "bench")
}

func (c *chance) timePasses(t *rapid.T) {
	c.step(c.now.Mono + rapid.SampledFrom([]time.Duration{
		tick, 10 * tick, 500 * tick, sec, 3 * sec, 10 * sec, mins, 5 * mins, 15 * mins, time.Hour, 12 * time.Hour,
	}).Draw(t, "passes"))
	if rapid.IntRange(0, 9).Draw(t, "stall") > 0 {
		c.g.Planned(c.now.Mono)
	}
}

func (c *chance) guardsTime(*rapid.T) {
	for range 20 {
		if next := c.g.Next(); next != Never {
			c.step(next)
			c.turn()
			c.look()
		}
	}
}

func (c *chance) runWanted(t *rapid.T) {
	c.w.Benches[c.anyBench(t)] = RunWant{
		Pump:    rapid.IntRange(0, 3).Draw(t, "pump") > 0,
		Flood:   rapid.Int64Range(1, 1000).Draw(t, "flood"),
		Attempt: rapid.IntRange(0, 1).Draw(t, "attempt"),
		Hold:    rapid.SampledFrom([]time.Duration{-sec, 0, mins, 4 * mins, 100 * time.Hour}).Draw(t, "hold"),
	}
}

// allIsWell dries every switch, fills the reservoirs and waits out every rest.
func (c *chance) allIsWell(t *rapid.T) {
	for i, b := range c.l.Benches {
		c.r.Benches[i] = newRig(c.t, Limits{Outputs: c.l.Outputs, Reservoirs: c.l.Reservoirs, Benches: []BenchLimits{b}}).r.Benches[0]
	}
	for k, tank := range c.l.Reservoirs {
		if tank.Low {
			c.r.Reservoirs[k].Low.Level = Wet
		}
	}
	for range 5 {
		c.step(c.now.Mono + 5*mins)
		c.g.Planned(c.now.Mono)
		c.turn()
		c.look()
	}
}

func (c *chance) waterRises(t *rapid.T) {
	for i := range c.out {
		if c.out[i].on && c.l.Benches[i].Full {
			c.r.Benches[i].Full.Level = Wet
			c.tally.fulls++
		}
	}
}

func (c *chance) anySwitch(t *rapid.T) {
	b := &c.r.Benches[c.anyBench(t)]
	r := rapid.SampledFrom([]*Reading{&b.Full, &b.High, &b.Empty, &b.Leak, &c.r.Reservoirs[0].Low, &c.r.HandsIn}).Draw(t, "switch")
	r.Level = rapid.SampledFrom([]Level{Dry, Wet, Fault}).Draw(t, "level")
}

func (c *chance) resetAny(t *rapid.T) {
	i := c.anyBench(t)
	if c.g.Reset(c.now, i, "looked at it") == nil {
		c.tally.resets++
		c.out[i].latched = nil
	}
}

// startAgain ends the program, with or without the machine.
func (c *chance) startAgain(t *rapid.T) {
	boot := "boot-1"
	if rapid.Bool().Draw(t, "power cut") {
		c.boot++
		boot = string(rune('a' + c.boot%20))
	}
	s := c.g.State()
	if boot != "boot-1" || s.Boot != boot {
		c.now.Mono = 0
		for i := range c.out {
			c.out[i].starts, c.out[i].stopped = nil, 0
		}
	}
	c.tally.restarts++
	c.w = NewWant(c.l)
	c.g = New(c.l, s, c.now, boot)
	c.before, c.stir = Command{}, 0
	for i := range c.out {
		if c.out[i].on {
			c.out[i].on, c.out[i].stopped = false, c.now.Mono
		}
	}
}

func (c *chance) check(*rapid.T) {
	c.turn()
	c.look()
}

// look holds the last Command against the rules.
func (c *chance) look() {
	now := c.now.Mono
	c.lookAtLatches()
	for i := range c.out {
		on := c.pump(i)
		if on && !c.out[i].on {
			c.lookAtStart(i)
		}
		if !on && c.out[i].on {
			c.out[i].on, c.out[i].stopped = false, now
		}
		if on {
			c.lookAtRun(i)
		}
	}
	c.lookAtStirrer()
	for e, o := range c.l.Outputs {
		if o.Kind == Enable && c.cmd.On(e) {
			c.lookAtEnable(e)
		}
	}
	c.before = c.cmd
	if c.Failed() {
		c.FailNow()
	}
}

// lookAtEnable looks at enable relay e, which is closed.
func (c *chance) lookAtEnable(e int) {
	for i, b := range c.l.Benches {
		behind := c.l.Outputs[b.Pump].Enable == e
		assert.False(c, behind && b.High && c.r.Benches[i].High.Level != Dry, "enable closed over a made HIGH")
	}
	moves := false
	for i, o := range c.l.Outputs {
		moves = moves || o.Enable == e && c.cmd.On(i)
	}
	assert.True(c, moves || c.before.On(e), "enable closed without a pump")
}

func (c *chance) lookAtStart(i int) {
	now, b, o := c.now.Mono, c.l.Benches[i], &c.out[i]
	c.tally.starts++
	if len(o.starts) > 0 {
		assert.GreaterOrEqual(c, now-o.stopped, b.Drain+2*mins, "min-rest")
	}
	for _, level := range fitted(b, c.r.Benches[i]) {
		assert.Equal(c, Dry, level, "a switch shows water or nothing")
	}
	o.on, o.started = true, now
	o.starts = append(o.starts, now)
	hour := slices.DeleteFunc(slices.Clone(o.starts), func(t time.Duration) bool { return now-t >= time.Hour })
	assert.LessOrEqual(c, len(hour), 6, "starts")
	for j, other := range c.l.Benches {
		if j != i && other.Reservoir == b.Reservoir {
			given := len(c.out[j].latched) > 0
			assert.True(c, given || !c.out[j].on, "two floods on one reservoir")
			assert.True(c, given || c.view.Benches[j].Water == Gone, "two waters on one reservoir")
		}
	}
}

// fitted are the levels of the switches of a bench that are fitted.
func fitted(b BenchLimits, r BenchReadings) (levels []Level) {
	for n, is := range []bool{b.Full, b.High, b.Empty, b.Leak} {
		if is {
			levels = append(levels, r.sensors()[n].Level)
		}
	}
	return levels
}

func (c *chance) lookAtRun(i int) {
	b := c.l.Benches[i]
	limit := 5*mins + 300*sec
	if !b.Full && !b.High {
		limit = 200 * sec
	}
	assert.Less(c, c.now.Mono-c.out[i].started, limit, "the run outlasts its limit")
	assert.True(c, c.w.Benches[i].Pump, "nobody wants it")
	assert.Empty(c, c.out[i].latched, "it is latched")
	assert.NotEqual(c, Wet, c.r.HandsIn.Level)
	assert.NotEqual(c, Fault, c.r.HandsIn.Level)
	assert.False(c, b.High && c.r.Benches[i].High.Level != Dry, "HIGH is made")
	assert.False(c, b.Leak && c.r.Benches[i].Leak.Level != Dry, "the floor is wet")
	enable := c.l.Outputs[b.Pump].Enable
	assert.True(c, enable < 0 || c.cmd.On(enable), "its enable relay is open")
}

// lookAtLatches follows the latched trips, which nothing but a reset ends.
func (c *chance) lookAtLatches() {
	for _, e := range c.events {
		if e.Kind == LatchedEvent {
			c.out[e.Bench].latched = append(c.out[e.Bench].latched, e.Interlock)
			c.tally.latches++
		}
		if e.Kind == Tripped && e.Interlock == HighLevel {
			c.tally.highs++
		}
	}
	c.events = nil
	for i := range c.out {
		latched := c.g.benches[i].latched
		require.Len(c, latched, len(c.out[i].latched))
		for n, why := range c.out[i].latched {
			assert.Equal(c, why, latched[n].Interlock, "a latch was lost")
		}
	}
}

func (c *chance) lookAtStirrer() {
	switch now := c.now.Mono; {
	case !c.cmd.On(stirOut):
	case !c.before.On(stirOut):
		c.stir = now
	default:
		assert.Less(c, now-c.stir, 15*mins, "the stirring outlasts its limit")
	}
}
