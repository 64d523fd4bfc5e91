package safety

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestFilterDelaysMakeAndBreak(t *testing.T) {
	type obs struct {
		at    time.Duration
		raw   Level
		level Level
		since time.Duration
	}
	for name, steps := range map[string][]obs{
		"the first reading is taken at once": {{5 * sec, Wet, Wet, 5 * sec}},
		"make after a second": {
			{0, Dry, Dry, 0}, {10 * sec, Wet, Dry, 0}, {11*sec - tick, Wet, Dry, 0}, {11 * sec, Wet, Wet, 10 * sec}},
		"break after three": {
			{0, Wet, Wet, 0}, {10 * sec, Dry, Wet, 0}, {13*sec - tick, Dry, Wet, 0}, {13 * sec, Dry, Dry, 10 * sec}},
		"a wave starts the delay anew": {
			{0, Dry, Dry, 0}, {10 * sec, Wet, Dry, 0}, {10*sec + 900*tick, Dry, Dry, 0},
			{11 * sec, Wet, Dry, 0}, {11*sec + 999*tick, Wet, Dry, 0}, {12 * sec, Wet, Wet, 11 * sec}},
		"a fault holds the level": {
			{0, Dry, Dry, 0}, {10 * sec, Fault, Dry, 0}, {20 * sec, Fault, Dry, 0}, {21 * sec, Absent, Dry, 0}},
		"a fault gives up a change under way": {
			{0, Dry, Dry, 0}, {10 * sec, Wet, Dry, 0}, {11 * sec, Fault, Dry, 0}, {12 * sec, Wet, Dry, 0}, {13 * sec, Wet, Wet, 12 * sec}},
		"a fault at first is wet": {{0, Fault, Wet, 0}},
	} {
		t.Run(name, func(t *testing.T) {
			var f filter
			for _, s := range steps {
				f.observe(s.at, Reading{s.raw, s.at}, Absent)
				assert.Equal(t, Switch{s.level, s.since}, f.Switch, "at %v", s.at)
			}
		})
	}
}

func TestFaultCountsAsTheUnsafeLevel(t *testing.T) {
	for _, unsafe := range []Level{Dry, Wet} {
		var f filter
		f.observe(0, Reading{Level: Fault}, unsafe)
		assert.Equal(t, unsafe, f.Level)
	}
}

func TestWetAgainSoonIsNotFresh(t *testing.T) {
	var f filter
	observe := func(at time.Duration, l Level) { f.observe(at, Reading{l, at}, Wet) }
	observe(0, Dry)
	observe(sec, Wet)
	assert.True(t, f.rose && f.fresh, "never wet before")
	observe(2*sec, Dry)
	observe(5*sec-tick, Wet)
	assert.True(t, f.rose && !f.fresh)
	observe(6*sec, Dry)
	observe(9*sec, Wet)
	assert.True(t, f.fresh)
}

func TestChatterIsOneChangeTooMany(t *testing.T) {
	change := func(gap time.Duration, n int) *filter {
		var f filter
		f.observe(0, Reading{Level: Dry}, Wet)
		for k := range n {
			at := time.Duration(k+1) * gap
			level := Wet
			if k%2 == 1 {
				level = Dry
			}
			f.observe(at, Reading{level, at}, Wet)
			f.observe(at+BreakDelay, Reading{level, at + BreakDelay}, Wet)
		}
		return &f
	}
	assert.False(t, change(10*sec, 6).chatters(time.Minute))
	assert.True(t, change(10*sec, 7).chatters(time.Minute))
	assert.False(t, change(10*sec, 7).chatters(time.Minute-1), "six gaps outlast the window")
	assert.True(t, change(10*sec, 19).chatters(time.Minute), "the ring went round")
}

func TestLevelsHaveNames(t *testing.T) {
	assert.Equal(t, "absent dry wet fault", fmt.Sprint(Absent, Dry, Wet, Fault))
}

func TestUnfittedSwitchIsIgnored(t *testing.T) {
	rg := newRig(t, site(1))
	rg.r.Benches[0].Leak = Reading{Level: Wet}
	rg.wait(mins)
	assert.Equal(t, Absent, rg.b(0).Leak.Level)
	assert.False(t, rg.told(Tripped, 0, LeakFound))
}

func TestFittedSwitchThatReadsAbsentIsAFault(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.high(0, Absent)
	assert.Equal(t, HighLevel, rg.start(0).Interlock)
}

func TestSwitchChangesAreTold(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	rg.low(Dry)
	rg.wait(3 * sec)
	assert.Contains(t, rg.events, Event{Kind: SwitchChanged, At: 3 * sec, Bench: -1, Switch: "low", Level: Dry})
	assert.Equal(t, Switch{Dry, 0}, rg.view.Reservoirs[0].Low)
}
