package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func (rg *rig) click(output int, on bool) error {
	err := rg.g.Click(rg.now, output, on)
	rg.wait(0)
	return err
}

func TestAClickEnergisesOneRelayForAMoment(t *testing.T) {
	rg := handsIn(t, site(2))
	for i := range rg.l.Outputs {
		require.NoError(t, rg.click(i, true))
		var only Command
		only.set(i)
		assert.Equal(t, only, rg.cmd, rg.l.Outputs[i].Name)
		rg.wait(LongestClick - tick)
		assert.True(t, rg.cmd.On(i))
		rg.wait(tick)
		assert.False(t, rg.cmd.Any(), "its time is up")
		rg.wait(EnableLag)

		require.NoError(t, rg.click(i, true))
		rg.wait(sec)
		require.NoError(t, rg.click(i, false))
		assert.False(t, rg.cmd.Any(), "let go")
		rg.wait(EnableLag)
	}
}

func TestAClickIsRefusedOutsideHandsIn(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	require.ErrorContains(t, rg.click(3, true), "give hands-in first")
	rg.flood(0, 1)
	require.ErrorContains(t, rg.click(lampOut, true), "give hands-in first")
	require.NoError(t, rg.click(lampOut, false))
	assert.True(t, rg.pump(0), "the flood goes on")
}

func TestClicksDoNotOverlap(t *testing.T) {
	rg := handsIn(t, site(1))
	require.ErrorContains(t, rg.click(-1, true), "no output -1; there are 4")
	require.ErrorContains(t, rg.click(4, true), "no output 4")
	require.NoError(t, rg.click(3, true))
	require.ErrorContains(t, rg.click(enableOut, true), `click "enable": "north_pump" clicks`)
	require.NoError(t, rg.click(3, false))
	require.ErrorContains(t, rg.click(enableOut, true), "may not have dropped yet")
	rg.wait(EnableLag)
	require.NoError(t, rg.click(enableOut, true))
}

// A relay takes its time to drop. Until it has, no other may close, nor the same
// again, whoever let it go.
func TestTheNextClickWaitsUntilTheLastRelayHasDropped(t *testing.T) {
	for name, end := range map[string]func(*rig){
		"let go":     func(rg *rig) { require.NoError(t, rg.g.Click(rg.now, 3, false)) },
		"its time":   func(rg *rig) { rg.wait(LongestClick) },
		"hands-in":   func(rg *rig) { rg.g.SetHandsIn(rg.now, false); rg.turn(); rg.g.SetHandsIn(rg.now, true) },
		"high":       func(rg *rig) { rg.r.Benches[0].High.Level = Wet; rg.turn(); rg.r.Benches[0].High.Level = Dry },
		"lost board": func(rg *rig) { rg.g.Lost(rg.now, "no answer") },
		"overtaken":  func(rg *rig) { rg.g.Overtaken(rg.now) },
		"a reload":   func(rg *rig) { rg.g = rg.g.Reloaded(rg.l, rg.now) },
		"let go, and a reload": func(rg *rig) {
			require.NoError(t, rg.g.Click(rg.now, 3, false))
			rg.turn()
			rg.g = rg.g.Reloaded(rg.l, rg.now)
		},
	} {
		for _, next := range []int{enableOut, 3, lampOut} {
			rg := handsIn(t, site(1))
			require.NoError(t, rg.click(3, true))
			end(rg)
			rg.turn()
			require.False(t, rg.cmd.Any(), name)
			at := rg.now.Mono
			require.ErrorContains(t, rg.click(next, true), "may not have dropped yet", "%s, then %d", name, next)
			rg.w.Benches[0] = RunWant{}
			rg.arrive(at + EnableLag - tick)
			require.Error(t, rg.g.Click(rg.now, next, true), "%s, then %d: one step before", name, next)
			rg.arrive(at + EnableLag)
			assert.NotContains(t, errText(rg.g.Click(rg.now, next, true)), "may not have dropped", "%s, then %d", name, next)
		}
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestAClickEndsWithWhatAllowedIt(t *testing.T) {
	for name, end := range map[string]func(*rig){
		"hands-in":   func(rg *rig) { rg.g.SetHandsIn(rg.now, false) },
		"high":       func(rg *rig) { rg.r.Benches[1].High.Level = Wet },
		"leak":       func(rg *rig) { rg.r.Benches[0].Leak.Level = Fault },
		"stop":       func(rg *rig) { rg.g.Stop(rg.now) },
		"lost board": func(rg *rig) { rg.g.Lost(rg.now, "no answer") },
	} {
		l := site(2)
		l.Benches[0].Leak = true
		rg := handsIn(t, l)
		require.NoError(t, rg.click(3, true))
		end(rg)
		rg.turn()
		assert.False(t, rg.cmd.Any(), name)
		rg.wait(LongestClick)
		assert.False(t, rg.cmd.Any(), name)
	}
}

func TestHighUnderTestLetsItsEnableRelayAloneClick(t *testing.T) {
	rg := handsIn(t, site(1))
	require.NoError(t, rg.g.ProofTest(rg.now, 0, true))
	rg.high(0, Wet)
	require.NoError(t, rg.click(enableOut, true), "its wire has to keep the relay open")
	assert.True(t, rg.cmd.On(enableOut))
	rg.wait(LongestClick + EnableLag)
	require.ErrorContains(t, rg.click(3, true), "HIGH of bench")
	require.NoError(t, rg.click(lampOut, true), "a lamp is in no pump circuit")
}

func TestNoEnableRelayClicksOverAWeld(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.to(stopped + 250*sec)
	rg.full(0, Dry)
	rg.wait(mins)
	require.True(t, rg.told(WeldProven, 0, DrainWindow))
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	require.ErrorContains(t, rg.click(enableOut, true), "may be welded")
}

func TestWhateverIsClickedNoPumpCircuitCloses(t *testing.T) {
	clicked := 0
	rapid.Check(t, func(rt *rapid.T) {
		rg := handsIn(rt, site(2))
		since := make([]time.Duration, len(rg.l.Outputs))
		var before Command
		look := func() {
			on := 0
			for i, o := range rg.l.Outputs {
				if o.Kind == Other || !rg.cmd.On(i) {
					continue
				}
				on++
				clicked++
				if !before.On(i) {
					since[i] = rg.now.Mono
				}
				assert.Less(rt, rg.now.Mono-since[i], LongestClick)
				high := rg.r.Benches[0].High.Level != Dry
				assert.False(rt, high && o.Kind != Enable, "a pump relay clicks over a made HIGH")
			}
			require.LessOrEqual(rt, on, 1, "more than one relay of the pump circuits")
			before = rg.cmd
		}
		rt.Repeat(map[string]func(*rapid.T){
			"click": func(t *rapid.T) {
				_ = rg.g.Click(rg.now, rapid.IntRange(-1, len(rg.l.Outputs)).Draw(t, "output"), rapid.IntRange(0, 3).Draw(t, "on") > 0)
			},
			"want": func(t *rapid.T) {
				rg.w.Benches[0] = RunWant{Pump: true, Flood: rapid.Int64().Draw(t, "flood")}
				rg.w.Stir[0] = true
			},
			"proof": func(t *rapid.T) { _ = rg.g.ProofTest(rg.now, 0, rapid.Bool().Draw(t, "proof")) },
			"high": func(t *rapid.T) {
				rg.r.Benches[0].High.Level = rapid.SampledFrom([]Level{Dry, Wet, Fault}).Draw(t, "high")
			},
			"time": func(t *rapid.T) {
				rg.step(rg.now.Mono + rapid.SampledFrom([]time.Duration{tick, sec, LongestClick, mins}).Draw(t, "passes"))
				rg.g.Planned(rg.now.Mono)
			},
			"": func(*rapid.T) { rg.turn(); look() },
		})
	})
	assert.Positive(t, clicked, "chance clicked nothing")
}

func TestAWeldKeepsOnlyItsOwnEnableRelayFromClicking(t *testing.T) {
	rg := handsIn(t, apart(2))
	rg.g.benches[0].weld = true
	own, other := rg.l.Outputs[rg.l.Benches[0].Pump].Enable, rg.l.Outputs[rg.l.Benches[1].Pump].Enable
	require.ErrorContains(t, rg.click(own, true), "may be welded")
	require.NoError(t, rg.click(other, true))
	assert.True(t, rg.cmd.On(other))
}
