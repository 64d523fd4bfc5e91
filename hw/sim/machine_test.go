package sim_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw"
	"benchtide/hw/sim"
	"benchtide/safety"
)

func TestPowerCutTakesProgramAndRelaysAndGivesANewBoot(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "power-cut", At: time.Minute, For: time.Hour}))
	require.NoError(t, w.Inject(sim.Fault{What: "relay-welded", Where: "flood_pump"}))
	w.Energise(pump, enable)
	err := error(nil)
	for err == nil {
		readings(w)
		err = w.Wait(context.Background(), time.Hour, nil)
	}
	require.ErrorIs(t, err, sim.ErrDown)
	assert.Equal(t, time.Minute, w.Elapsed())
	assert.False(t, w.Running(pump))
	assert.ErrorIs(t, w.Apply(safety.Command{}), sim.ErrDown)
	assert.ErrorContains(t, w.Start(), "no power")
	assert.False(t, w.Host().Powered)

	w.Advance(w.Elapsed() + time.Hour)
	assert.False(t, w.Host().Running)
	wall := w.Now().Wall
	require.NoError(t, w.Start())
	assert.Zero(t, w.Now().Mono, "a new boot")
	assert.Equal(t, wall, w.Now().Wall)
	assert.Equal(t, 2, w.Host().Boots)
	require.NoError(t, w.Apply(safety.Command{}))
}

func TestCrashReleasesOrKeepsTheOutputs(t *testing.T) {
	for _, keep := range []bool{false, true} {
		c := oneBench()
		c.KeepOnCrash = keep
		w := world(t, c)
		require.NoError(t, w.Inject(sim.Fault{What: "process-crash", At: time.Minute, For: time.Minute}))
		w.Energise(pump, enable)
		w.Advance(90 * time.Second)
		assert.Equal(t, keep, w.Running(pump))
		assert.ErrorContains(t, w.Start(), "crashes again")
		w.Advance(3 * time.Minute)
		mono := w.Now().Mono
		require.NoError(t, w.Start())
		assert.Equal(t, mono, w.Now().Mono, "the same boot")
		assert.Equal(t, 1, w.Host().Boots)
	}
}

func TestHangReturnsLateAndTheDeadManPutsOutputsOff(t *testing.T) {
	for _, dead := range []time.Duration{0, time.Second} {
		c := oneBench()
		c.DeadMan = dead
		w := world(t, c)
		require.NoError(t, w.Inject(sim.Fault{What: "process-hang", At: time.Minute, For: time.Hour}))
		w.Energise(pump, enable)
		for w.Elapsed() < time.Minute {
			readings(w)
			require.NoError(t, w.Wait(context.Background(), w.Now().Mono+10*time.Second, nil))
		}
		assert.Equal(t, 61*time.Minute, w.Elapsed())
		run := w.Truth().Outputs[pump].Run
		if dead == 0 {
			assert.Equal(t, 61*time.Minute, run)
		} else {
			assert.InDelta(t, 61, run.Seconds(), 10)
		}
	}
}

func TestClockJumpStepsWallTimeAlone(t *testing.T) {
	w := world(t, oneBench())
	before := w.Now()
	require.NoError(t, w.Inject(sim.Fault{What: "clock-jump", For: 2 * time.Hour, Size: -1}))
	assert.Equal(t, before.Wall.Add(-2*time.Hour), w.Now().Wall)
	assert.Equal(t, before.Mono, w.Now().Mono)
	require.NoError(t, w.Inject(sim.Fault{What: "clock-jump", For: 2 * time.Hour}))
	require.NoError(t, w.Inject(sim.Fault{What: "clock-jump"}))
	assert.Equal(t, before.Wall.Add(time.Hour), w.Now().Wall)
	w.Trust(false)
	assert.False(t, w.Now().Trusted)
}

func TestMachineFaultsAreFlags(t *testing.T) {
	w := world(t, oneBench())
	for _, what := range []string{"storage-full", "storage-broken", "network-down"} {
		require.NoError(t, w.Inject(sim.Fault{What: what, At: time.Hour, For: time.Hour}))
	}
	flags := func() [3]bool { h := w.Host(); return [3]bool{h.StorageFull, h.StorageBroken, h.NetworkDown} }
	assert.Equal(t, [3]bool{}, flags())
	w.Advance(90 * time.Minute)
	assert.Equal(t, [3]bool{true, true, true}, flags())
	w.Advance(3 * time.Hour)
	assert.Equal(t, [3]bool{}, flags())
}

func TestUnreadSwitchesKeepTheTimeOfTheirLastGoodReading(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "switches-unread", At: time.Minute, For: time.Minute}))
	started := w.Now().Mono
	assert.Equal(t, safety.Reading{Level: safety.Dry, At: started}, readings(w).Benches[0].Full)
	w.Advance(90 * time.Second)
	unread := safety.Reading{Level: safety.Fault, At: started + time.Minute}
	r := readings(w)
	assert.Equal(t, safety.BenchReadings{Full: unread, High: unread, Empty: unread, Leak: unread}, r.Benches[0])
	assert.Equal(t, []safety.Reading{unread, unread}, []safety.Reading{r.Reservoirs[0].Low, r.HandsIn})
	w.Advance(2 * time.Minute)
	assert.Equal(t, safety.Reading{Level: safety.Dry, At: w.Now().Mono}, readings(w).Benches[0].Full)
}

func TestABootAmidUnreadSwitchesHasNoGoodReading(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "switches-unread"}))
	require.NoError(t, w.Inject(sim.Fault{What: "power-cut", At: time.Hour, For: time.Minute}))
	w.Advance(61 * time.Minute)
	require.NoError(t, w.Start())
	assert.Equal(t, safety.Reading{Level: safety.Fault}, readings(w).Benches[0].Full)
}

func TestDeafOutputsKeepTheirLevelButNotWithoutPower(t *testing.T) {
	w := world(t, oneBench())
	w.Energise(pump, enable)
	require.NoError(t, w.Inject(sim.Fault{What: "outputs-deaf", At: time.Minute, For: time.Hour}))
	require.NoError(t, w.Inject(sim.Fault{What: "power-cut", At: 30 * time.Minute, For: time.Minute}))
	w.Advance(20 * time.Minute)
	assert.ErrorIs(t, w.Apply(safety.Command{}), sim.ErrDeaf)
	assert.True(t, w.Running(pump))
	w.Advance(31 * time.Minute)
	assert.False(t, w.Running(pump), "its relay has fallen")
	w.Advance(2 * time.Hour)
	require.NoError(t, w.Start())
	assert.NoError(t, w.Apply(safety.Command{}))
}

// An expander that is gone keeps its level through everything but a power cut,
// and tells so at every command; the other outputs are driven.
func TestAnOutputOnAnExpanderThatIsGoneKeepsItsLevelAndIsTold(t *testing.T) {
	w := world(t, oneBench())
	w.Energise(pump, enable)
	require.Error(t, w.Inject(sim.Fault{What: "expander-gone", Where: "enable"}), "it hangs on the processor")
	require.NoError(t, w.Inject(sim.Fault{What: "expander-gone", Where: "flood_pump", At: time.Minute, For: time.Hour}))
	require.NoError(t, w.Inject(sim.Fault{What: "power-cut", At: 30 * time.Minute, For: time.Minute}))
	w.Advance(2 * time.Minute)
	outputs, rest := hw.OutputErrors(w.Apply(safety.Command{}))
	require.Len(t, outputs, 1)
	assert.Empty(t, rest)
	assert.Equal(t, pump, outputs[0].Output)
	assert.True(t, outputs[0].Behind)
	assert.True(t, w.Outputs[pump].Contact)
	assert.False(t, w.Running(pump), "its enable relay opened")
	assert.False(t, w.Answers(pump))
	w.Advance(31*time.Minute + time.Second)
	assert.False(t, w.Outputs[pump].Contact, "it has fallen")
	require.NoError(t, w.Start())
	w.Advance(2 * time.Hour)
	assert.NoError(t, w.Apply(safety.Command{}))
}

// A program that reads its switches by the clock has a turn due whenever a hang
// begins.
func TestATurnIsDueWhereAHangBegins(t *testing.T) {
	w := world(t, oneBench())
	assert.Equal(t, safety.Never, w.NextRead(0))
	require.NoError(t, w.Inject(sim.Fault{What: "process-hang", At: time.Hour, For: 5 * time.Second}))
	due := w.NextRead(0)
	assert.Equal(t, w.Now().Mono+time.Hour, due)
	for w.Elapsed() < time.Hour {
		readings(w)
		require.NoError(t, w.Wait(context.Background(), due, nil))
	}
	assert.Equal(t, due+5*time.Second, w.Now().Mono)
	assert.Equal(t, safety.Never, w.NextRead(0))
}

func TestWaitHearsWakeContextAndButton(t *testing.T) {
	w := world(t, oneBench())
	readings(w)
	wake := make(chan struct{}, 1)
	wake <- struct{}{}
	require.NoError(t, w.Wait(context.Background(), time.Hour, wake))
	assert.Zero(t, w.Elapsed())

	w.Press(true)
	require.NoError(t, w.Wait(context.Background(), time.Hour, wake))
	assert.Zero(t, w.Elapsed())
	assert.Equal(t, safety.Wet, readings(w).HandsIn.Level)

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	assert.ErrorIs(t, w.Wait(ctx, time.Hour, nil), context.Canceled)
	require.NoError(t, w.Wait(context.Background(), safety.Never, nil))
	assert.Equal(t, 24*time.Hour, w.Elapsed(), "no wait is longer than a day")
	require.NoError(t, w.Close())
}
