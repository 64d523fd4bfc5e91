package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// stirring is a rig whose stirrer runs from the start.
func stirring(t *testing.T, l Limits) *rig {
	rg := newRig(t, l)
	rg.w.Stir[0] = true
	rg.wait(0)
	require.True(t, rg.cmd.On(stirOut) && rg.cmd.On(enableOut))
	return rg
}

func TestStirringEndsAtItsLimitUntilItIsNoLongerWanted(t *testing.T) {
	rg := stirring(t, site(1))
	rg.wait(15*mins - tick)
	assert.True(t, rg.cmd.On(stirOut))
	rg.wait(tick)
	assert.False(t, rg.cmd.Any())
	rg.wait(time.Hour)
	assert.False(t, rg.cmd.Any())
	rg.w.Stir[0] = false
	rg.wait(0)
	rg.w.Stir[0] = true
	rg.wait(0)
	assert.True(t, rg.cmd.On(stirOut))
	rg.wait(15*mins - tick)
	assert.True(t, rg.cmd.On(stirOut), "another stirring, and all of its time")
}

func TestStirringThatWasBrokenOffKeepsItsCount(t *testing.T) {
	rg := stirring(t, site(1))
	rg.wait(10 * mins)
	rg.r.Reservoirs[0].Temperature = 2
	rg.wait(0)
	assert.False(t, rg.cmd.Any())
	rg.wait(mins)
	rg.r.Reservoirs[0].Temperature = 2.1
	rg.wait(0)
	rg.wait(5*mins - tick)
	assert.True(t, rg.cmd.On(stirOut))
	rg.wait(tick)
	assert.False(t, rg.cmd.Any())
}

func TestStirrerNeedsWaterAndAWayClear(t *testing.T) {
	low := site(1)
	low.Reservoirs[0].Low = true
	for name, c := range map[string]struct {
		l       Limits
		against func(*rig)
	}{
		"cold":     {site(1), func(rg *rig) { rg.r.Reservoirs[0].Temperature = 2 }},
		"low":      {low, func(rg *rig) { rg.r.Reservoirs[0].Low.Level = Dry }},
		"high":     {site(1), func(rg *rig) { rg.r.Benches[0].High.Level = Wet }},
		"hands-in": {site(1), func(rg *rig) { rg.g.SetHandsIn(rg.now, true) }},
		"welded":   {site(1), func(rg *rig) { rg.g.benches[0].weld = true }},
	} {
		t.Run(name, func(t *testing.T) {
			rg := stirring(t, c.l)
			c.against(rg)
			rg.turn()
			assert.False(t, rg.cmd.Any())
		})
	}
}

func TestStirrerWithoutEnableRunsByItself(t *testing.T) {
	l := site(1)
	noEnable(&l)
	rg := newRig(t, l)
	rg.w.Stir[0] = true
	rg.high(0, Wet)
	assert.True(t, rg.cmd.On(stirOut))
}

func TestStirrerWaitsUntilASuspectedWeldIsJudged(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.to(stopped + 150*sec)
	require.True(t, rg.latched(0, DrainWindow))
	rg.w.Stir[0] = true
	rg.wait(sec)
	assert.False(t, rg.cmd.Any(), "the enable relay stays open to tell")
	rg.wait(150 * sec)
	assert.True(t, rg.cmd.On(stirOut), "FULL stood: no weld")
}
