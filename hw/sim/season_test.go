package sim_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/hw/sim"
	"benchtide/safety"
)

// flood runs the pump for on, as a timed program does.
func flood(w *sim.World, on time.Duration) {
	w.Energise(pump, enable)
	w.Advance(w.Elapsed() + on)
	w.Energise(enable)
}

// season floods four times a day, refills daily, and drops the enable in between.
func season(w *sim.World, days int) {
	for d := range days {
		for _, hour := range []int{8, 11, 14, 17} {
			w.Advance(time.Duration(d)*24*time.Hour + time.Duration(hour)*time.Hour)
			flood(w, 10*time.Minute)
			w.Advance(w.Elapsed() + 20*time.Minute)
			w.Energise()
		}
		w.Refill(0, 1.2)
	}
}

func BenchmarkSeason(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		season(world(b, oneBench()), 120)
	}
}

func BenchmarkStep(b *testing.B) {
	w := world(b, oneBench())
	w.Energise(pump, enable)
	b.ReportAllocs()
	for b.Loop() {
		w.Advance(w.Elapsed() + time.Second)
	}
}

func TestNoStepAllocates(t *testing.T) {
	w := world(t, oneBench())
	w.Energise(pump, enable)
	assert.Zero(t, testing.AllocsPerRun(200, func() { w.Advance(w.Elapsed() + 5*time.Second) }))
}

func TestSeasonWithFaultsLosesNoWater(t *testing.T) {
	w := world(t, oneBench())
	for i, name := range sim.Faults() {
		for _, where := range []string{"north", "flood_pump", "north.full", "tank", ""} {
			at := time.Duration(i)*48*time.Hour + 8*time.Hour + time.Minute
			if w.Inject(sim.Fault{What: name, Where: where, At: at, For: 30 * time.Hour, Size: 0.7}) == nil {
				break
			}
		}
	}
	season(w, 60)
	truth := w.Truth()
	assert.Greater(t, truth.Totals.Spilled, 10.0, "the faults must have spilled something for this to mean anything")
	assert.Greater(t, truth.Totals.Used, 100.0)
	assert.Less(t, abs(truth.Error), 1e-6*truth.Totals.Moved)
	assert.InDelta(t, truth.Totals.Spilled, truth.Totals.TableToFloor+truth.Totals.HoseToFloor+truth.Totals.TankToFloor, 1e-9)
}

func abs(x float64) float64 { return max(x, -x) }

func TestSameSeedSameBytes(t *testing.T) {
	run := func(seed uint64) string {
		c := oneBench()
		c.Seed = seed
		w := world(t, c)
		require.NoError(t, w.Inject(sim.Fault{What: "chatter", Where: "north", At: 30 * time.Hour, For: time.Hour}))
		season(w, 10)
		b, err := w.Snapshot()
		require.NoError(t, err)
		return string(b)
	}
	assert.Equal(t, run(7), run(7))
	assert.NotEqual(t, run(7), run(8))
}

func TestRestoredWorldGoesOnAsIfNeverStopped(t *testing.T) {
	w := world(t, oneBench())
	require.NoError(t, w.Inject(sim.Fault{What: "chatter", Where: "north.high", At: time.Hour}))
	require.NoError(t, w.Inject(sim.Fault{What: "relay-welded", Where: "flood_pump", At: time.Hour}))
	w.Energise(pump, enable)
	w.Advance(62 * time.Minute)
	saved, err := w.Snapshot()
	require.NoError(t, err)
	other, err := sim.Restore(oneBench(), saved)
	require.NoError(t, err)
	w.Advance(90 * time.Minute)
	other.Advance(90 * time.Minute)
	assert.Equal(t, w.Truth(), other.Truth())
}

func TestSnapshotOfAnotherSiteIsRefused(t *testing.T) {
	w := world(t, oneBench())
	saved, err := w.Snapshot()
	require.NoError(t, err)
	c := oneBench()
	c.Benches[0].Batches = nil
	_, err = sim.Restore(c, saved)
	assert.ErrorContains(t, err, "another site")
	_, err = sim.Restore(oneBench(), []byte("{"))
	assert.Error(t, err)
}

// The fine world is cut into steps of at most a tenth of a second from outside;
// the coarse one chooses its own.
func TestCoarseAndFineStepsAgree(t *testing.T) {
	coarse, fine := world(t, oneBench()), world(t, oneBench())
	for _, w := range []*sim.World{coarse, fine} {
		w.Energise(pump, enable)
	}
	compare := func(at time.Duration) {
		coarse.Advance(at)
		for fine.Elapsed() < at {
			fine.Advance(fine.Elapsed() + 100*time.Millisecond)
		}
		assert.InEpsilon(t, fine.Depth(0), coarse.Depth(0), 5e-4, "at %v", at)
		assert.InEpsilon(t, fine.Litres(0), coarse.Litres(0), 5e-4, "at %v", at)
	}
	for _, at := range []time.Duration{time.Minute, 3 * time.Minute, 4 * time.Minute, 9 * time.Minute} {
		compare(at)
	}
	for _, w := range []*sim.World{coarse, fine} {
		w.Energise(enable)
	}
	for _, at := range []time.Duration{10 * time.Minute, 11 * time.Minute, 13 * time.Minute, 14 * time.Minute} {
		compare(at)
	}
}

// Whatever is commanded and whatever breaks, water is neither made nor lost, no
// table goes below bare, and a wet HIGH lets no pump behind its enable run.
func TestAnythingMayHappenButWaterStays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := world(t, oneBench())
		for range rapid.IntRange(1, 25).Draw(t, "acts") {
			switch rapid.IntRange(0, 4).Draw(t, "act") {
			case 0, 1:
				w.Energise(rapid.SliceOfN(rapid.IntRange(0, 2), 0, 3).Draw(t, "outputs")...)
			case 2:
				_ = w.Inject(sim.Fault{
					What:  rapid.SampledFrom(sim.Faults()).Draw(t, "fault"),
					Where: rapid.SampledFrom([]string{"", "north", "north.high", "north.full", "tank", "tank.low", "flood_pump", "enable"}).Draw(t, "where"),
					At:    w.Elapsed() + time.Duration(rapid.IntRange(0, 600).Draw(t, "in"))*time.Second,
					For:   time.Duration(rapid.IntRange(0, 3600).Draw(t, "for")) * time.Second,
					Size:  rapid.Float64Range(0, 1).Draw(t, "size"),
				})
			case 3:
				w.TopUp(0, safety.Litres(rapid.Float64Range(0, 100).Draw(t, "litres")), 1)
			case 4:
				_ = w.Start()
			}
			end := w.Elapsed() + time.Duration(rapid.IntRange(1, 3600).Draw(t, "seconds"))*time.Second
			for w.Elapsed() < end {
				w.Step(end)
				r := readings(w)
				truth := w.Truth()
				require.Less(t, abs(truth.Error), 1e-6*(1+truth.Totals.Moved))
				require.GreaterOrEqual(t, w.Depth(0), 0.0)
				require.GreaterOrEqual(t, w.Litres(0), 0.0)
				require.LessOrEqual(t, w.Depth(0), 0.090, "the edge takes far more than the pump gives")
				welded := w.Acting("relay-welded")
				if r.Benches[0].High.Level == safety.Wet && !welded {
					require.False(t, w.Running(pump), "HIGH is wired into the enable")
				}
			}
		}
	})
}

func TestWaitStopsAtEachChangeAndNowhereElse(t *testing.T) {
	w := world(t, oneBench())
	r := readings(w)
	w.Energise(pump, enable)
	for range 3 { // EMPTY made, FULL made, reservoir low
		before := *r
		benches := slices.Clone(r.Benches)
		require.NoError(t, w.Wait(context.Background(), w.Now().Mono+time.Hour, nil))
		r = readings(w)
		changed := 0
		for _, c := range [][2]safety.Level{
			{benches[0].Full.Level, r.Benches[0].Full.Level}, {benches[0].Empty.Level, r.Benches[0].Empty.Level},
			{before.Reservoirs[0].Low.Level, r.Reservoirs[0].Low.Level},
		} {
			if c[0] != c[1] {
				changed++
			}
		}
		assert.Equal(t, 1, changed, "at %v", w.Now().Mono)
	}
	before := w.Now().Mono
	require.NoError(t, w.Wait(context.Background(), before+time.Minute, nil))
	assert.Equal(t, before+time.Minute, w.Now().Mono, "nothing changes during the hold")
}
