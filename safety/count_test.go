package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// switched is a bench of 0.5 L/s over a low switch that proves at: FULL comes
// with 100 L out, the crest with 110 L, and 20 L more are the most above it.
func switched(at Litres) func(*Limits) {
	return func(l *Limits) {
		l.Reservoirs[0].Low, l.Reservoirs[0].LowAt = true, at
		b := &l.Benches[0]
		b.Flood, b.ToFull, b.ToCrest, b.MaxHold = 130, 100, 110, 20*mins
	}
}

// drawn starts a flood whose low switch falls and whose FULL is made so long
// after its start, FULL never when that is 0.
func drawn(rg *rig, flood int64, fell, filled time.Duration) {
	rg.low(Wet)
	rg.to(max(rg.now.Mono+mins, ready))
	rg.want(0, flood, 20*mins)
	from := rg.now.Mono
	fall := func() { rg.to(from + fell); rg.low(Dry) }
	if fell < filled || filled == 0 {
		fall()
	}
	if filled > 0 {
		rg.to(from + filled)
		rg.full(0, Wet)
		rg.wait(MakeDelay)
	}
	if fell > filled && filled > 0 {
		fall()
	}
}

// ends stops the flood and lets its water go home.
func ends(rg *rig) {
	rg.unwant(0)
	rg.wait(10 * sec)
	rg.full(0, Dry)
	rg.low(Wet)
	rg.wait(20 * mins)
}

// leaks is what a fill of so many seconds where 200 are usual lets go, L/s.
func leaks(fill float64) float64 { return 0.5 * (1 - 1.03*200/fill) }

func TestLitresAreCountedFromTheFallOfTheLowSwitch(t *testing.T) {
	for name, c := range map[string]struct {
		at           Litres
		fell, filled time.Duration
		after        time.Duration // of the start; 0: the hold is whole
	}{
		"an ordinary fill stands":               {170, 10 * sec, 200 * sec, 0},
		"one within what floods scatter stands": {170, 10 * sec, 206 * sec, 0},
		"FULL does not come":                    {130, 10 * sec, 0, 230 * sec},
		"a late fall, FULL does not come":       {130, 70 * sec, 0, 290 * sec},
		"gone before the crest":                 {150, 10 * sec, 250 * sec, 270 * sec},
		"gone at the crest":                     {155, 10 * sec, 250 * sec, 275 * sec},
		"a leak after the crest":                {175, 10 * sec, 250 * sec, 275*sec + spanOf((155-0.5*265-20)/leaks(250))},
		"a fall in the hold":                    {170, 330 * sec, 290 * sec, 330*sec + spanOf((150-20)/leaks(290))},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, switched(c.at))
			drawn(rg, 1, c.fell, c.filled)
			start := rg.b(0).Started
			if c.after == 0 {
				rg.to(start + c.filled + 19*mins)
				assert.True(t, rg.pump(0))
				return
			}
			rg.to(start + c.after - tick)
			assert.True(t, rg.pump(0), "one step before")
			rg.to(start + c.after)
			rg.tripped(0, ReservoirLow, false)
			if c.filled == 0 {
				assert.Contains(t, rg.b(0).Trip.Detail, "before the table was full")
			}
		})
	}
}

func TestMadeLowSwitchIsNotCountedFrom(t *testing.T) {
	rg := rigWith(t, switched(170))
	rg.to(ready)
	rg.want(0, 1, 20*mins)
	rg.wait(250 * sec)
	rg.full(0, Wet)
	rg.wait(20*mins - sec)
	assert.True(t, rg.pump(0), "the reservoir still holds what the switch proves")
}

func TestSwitchThatIsMadeAgainBeginsTheCountAnew(t *testing.T) {
	rg := rigWith(t, switched(130))
	drawn(rg, 1, 10*sec, 0)
	rg.wait(50 * sec)
	rg.low(Wet)
	rg.wait(40 * sec)
	rg.low(Dry)
	rg.wait(199 * sec)
	assert.True(t, rg.pump(0), "the count from the first fall is over")
	rg.wait(20*sec + BreakDelay)
	assert.False(t, rg.pump(0))
}

func TestWithoutFullNothingShowsThatWaterComesBack(t *testing.T) {
	rg := rigWith(t, func(l *Limits) {
		switched(170)(l)
		l.Benches[0].Full = false
	})
	drawn(rg, 1, 10*sec, 0)
	rg.to(rg.b(0).Started + 310*sec - tick)
	assert.True(t, rg.pump(0))
	rg.wait(tick)
	rg.tripped(0, ReservoirLow, false)
	assert.Contains(t, rg.b(0).Trip.Detail, "no FULL switch shows that they come back")
}

// A switch that is made again may be stuck: until it falls the count stands that ran
// before it fell.
func TestASwitchThatIsMadeAgainProvesNothingYet(t *testing.T) {
	rg := rigWith(t, switched(130))
	drawn(rg, 1, 10*sec, 0)
	rg.wait(50 * sec)
	rg.low(Wet)
	rg.to(rg.b(0).Started + 220*sec - tick)
	assert.True(t, rg.pump(0), "one step before")
	rg.wait(tick)
	rg.tripped(0, ReservoirLow, false)
}

func TestFillsAreLearnt(t *testing.T) {
	for name, c := range map[string]struct {
		fills []time.Duration
		want  time.Duration
	}{
		"nothing yet":                   {nil, 200 * sec},
		"shorter, a fifth of the way":   {[]time.Duration{190 * sec}, 198 * sec},
		"longer, a hundredth of T_fill": {[]time.Duration{240 * sec}, 202 * sec},
		"a little longer, all of it":    {[]time.Duration{201 * sec}, 201 * sec},
	} {
		t.Run(name, func(t *testing.T) {
			rg := rigWith(t, switched(170))
			for i, f := range c.fills {
				drawn(rg, int64(i+1), 10*sec, f)
				ends(rg)
			}
			assert.Equal(t, c.want, rg.g.benches[0].learntFill(true))
			assert.Equal(t, c.want, rg.g.benches[0].learntFill(false), "the other kind stands in until its own is known")
		})
	}
	b := &bench{BenchLimits: &BenchLimits{Fill: 200 * sec}}
	assert.Equal(t, 150*sec, b.within(100*sec))
	assert.Equal(t, 230*sec, b.within(300*sec))
}

func TestFillsThatTheLowSwitchMarksAreLearntApart(t *testing.T) {
	rg := rigWith(t, switched(170))
	rg.flood(0, 1)
	rg.wait(190 * sec)
	rg.full(0, Wet)
	rg.wait(2 * sec)
	ends(rg)
	b := &rg.g.benches[0]
	b.learnt[1] = 210 * sec
	assert.Equal(t, 198*sec, b.learntFill(false))
	assert.Equal(t, 210*sec, b.learntFill(true))

	s := rg.g.State()
	assert.Equal(t, [2]time.Duration{198 * sec, 210 * sec}, s.Benches["north"].Learnt)
	s.Benches["north"] = BenchState{Learnt: [2]time.Duration{198 * sec, 900 * sec}}
	again := New(rg.l, s, rg.now, "boot-1")
	assert.Equal(t, [2]time.Duration{198 * sec, 230 * sec}, again.benches[0].learnt, "what a file says is held to the bounds too")
}

func TestBenchThatTheSheetSaysLittleOfIsCountedAllTheSame(t *testing.T) {
	rg := rigWith(t, func(l *Limits) {
		switched(170)(l)
		l.Benches[0].ToFull, l.Benches[0].ToCrest = 0, 0
	})
	drawn(rg, 1, 10*sec, 250*sec)
	rg.to(rg.b(0).Started + 250*sec + spanOf((150-0.5*240)/leaks(250)) - tick)
	assert.True(t, rg.pump(0), "FULL stands for the crest, and nothing is known to stand above it")
	rg.wait(tick)
	rg.tripped(0, ReservoirLow, false)

	rg = rigWith(t, func(l *Limits) {
		switched(170)(l)
		l.Benches[0].Flow = 0
	})
	drawn(rg, 1, 10*sec, 250*sec)
	rg.wait(15 * mins)
	assert.True(t, rg.pump(0), "no flow, no count")
}

func TestCountedOutInTheHoldSaysWhy(t *testing.T) {
	rg := rigWith(t, switched(172))
	drawn(rg, 1, 10*sec, 290*sec)
	for rg.pump(0) {
		rg.wait(10 * sec)
	}
	var said string
	for _, e := range rg.events {
		if e.Kind == Tripped {
			said = e.Detail
		}
	}
	assert.Contains(t, said, "the fill took 4 min 50 s where")
	assert.Empty(t, rg.view.Benches[0].Latched)
}
