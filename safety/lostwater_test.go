package safety

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestLostWaterStopsTheRunAndKeepsTheBenchOff(t *testing.T) {
	rg := newRig(t, site(2))
	rg.flood(0, 1)
	rg.step(rg.now.Mono + sec)
	rg.g.FoundLost(rg.now, 0, "20 L went")
	rg.wait(0)
	assert.Equal(t, rg.now.Mono, rg.b(0).Latched[0].At)
	rg.tripped(0, LostWater, true)
	assert.True(t, rg.latched(0, LostWater))
	assert.Equal(t, Refusal{Interlock: LostWater, Latched: true, Detail: "20 L went"}, rg.start(0))
	assert.False(t, rg.latched(1, LostWater))

	rg.g.FoundLost(rg.now, 7, "of a bench that is not there")
	rg.wait(0)
	assert.Empty(t, rg.view.Benches[1].Latched)
}

func TestLevelSwitchIsPassedOnAndForbidsNothing(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Level, l.Reservoirs[0].LevelAt = true, 150 })
	rg.r.Reservoirs[0].Level = Reading{Level: Wet, At: rg.now.Mono}
	rg.wait(0)
	rg.to(ready)
	assert.Equal(t, Wet, rg.view.Reservoirs[0].Level.Level)
	rg.flood(0, 1)
	rg.r.Reservoirs[0].Level.Level = Dry
	rg.wait(0)
	rg.wait(BreakDelay)
	assert.Equal(t, Dry, rg.view.Reservoirs[0].Level.Level)
	assert.True(t, rg.pump(0))
	var heard bool
	for _, e := range rg.events {
		heard = heard || e.Kind == SwitchChanged && e.Switch == "level" && e.Bench == -1
	}
	assert.True(t, heard)
}
