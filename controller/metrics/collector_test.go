package metrics

import (
	"flag"
	"net/http/httptest"
	"os"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

var update = flag.Bool("update", false, "write the golden files anew")

// rig is a collector whose site a test sets.
type rig struct {
	*Collector
	mono     time.Duration
	status   controller.Status // that the next turn leaves
	snapshot *loop.Snapshot
	lost     uint64
}

func newRig() *rig {
	r := &rig{}
	r.Collector = New(Site{
		Limits: safety.Limits{
			Outputs:    []safety.OutputLimits{{Name: "flood_pump", Kind: safety.FloodPump, Enable: 1}, {Name: "enable", Kind: safety.Enable, Enable: -1}},
			Reservoirs: []safety.ReservoirLimits{{Name: "tank", Low: true, Thermometer: true}},
			Benches:    []safety.BenchLimits{{Name: "north", Full: true, High: true}},
		},
		Batches:      []string{"basil_spring"},
		Build:        Build{Version: "v1.2.3", Revision: "abc", GoVersion: "go1.26"},
		Snapshot:     func() *loop.Snapshot { return r.snapshot },
		Mono:         func() time.Duration { return r.mono },
		LedgerErrors: func() uint64 { return r.lost },
	})
	r.status = controller.Status{
		Benches:    make([]controller.BenchStatus, 1),
		Batches:    make([]controller.BatchStatus, 1),
		Reservoirs: make([]controller.ReservoirStatus, 1),
	}
	return r
}

// turn is a turn at the given boot-time clock.
func (r *rig) turn(at time.Duration, events ...controller.Event) {
	r.mono = at
	for i := range events {
		events[i].At.Mono = at
	}
	r.snapshot = &loop.Snapshot{Status: r.status}
	r.Turn(&loop.Turn{Now: safety.Now{Mono: at}, Delay: 3 * time.Millisecond, Events: events})
}

func switched(i int, on bool) controller.Event {
	return controller.Event{Kind: controller.OutputChanged, Bench: -1, Output: i, On: on}
}

func scrape(t *testing.T, c prometheus.Collector) []byte {
	registry := prometheus.NewPedanticRegistry()
	require.NoError(t, registry.Register(c))
	w := httptest.NewRecorder()
	promhttp.HandlerFor(registry, promhttp.HandlerOpts{}).ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	require.Equal(t, 200, w.Code, w.Body)
	return w.Body.Bytes()
}

func golden(t *testing.T, name string, got []byte) {
	path := "testdata/" + name
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got))
}

func TestEveryLabelSetIsThereBeforeTheFirstTurn(t *testing.T) {
	golden(t, "before.prom", scrape(t, newRig()))
}

func TestAFloodAndATripShowInAScrape(t *testing.T) {
	r := newRig()
	r.turn(time.Hour, switched(0, true), switched(1, true))
	r.turn(time.Hour+4*time.Minute, switched(0, false), switched(1, false))
	proven := controller.Flood{Bench: 0, Outcome: controller.Proven, Fill: 210 * time.Second, Fall: 118 * time.Second}
	stoodFor := controller.Flood{Bench: 0, Outcome: controller.Missed, Reason: "flooded by elapsed time while the clock was not trusted"} // counts once
	due := time.Date(2026, 3, 16, 15, 0, 0, 0, time.UTC)
	r.status = controller.Status{
		Calendar: true, HandsIn: true,
		Benches: []controller.BenchStatus{{
			LastProven: due.Add(-6 * time.Hour), HasNext: true, Next: schedule.Planned{Due: due},
			Full: safety.Wet, High: safety.Fault,
			Latched: []safety.Trip{{Interlock: safety.HighLevel}},
		}},
		Batches:    []controller.BatchStatus{{Ratio: 0.25}},
		Reservoirs: []controller.ReservoirStatus{{Low: safety.Wet, Litres: 140, Thermometer: true, Temperature: 18.5, Believed: true}},
	}
	r.lost = 2
	r.turn(2*time.Hour,
		controller.Event{Kind: controller.FloodEnded, Flood: proven, Output: -1},
		controller.Event{Kind: controller.FloodEnded, Flood: stoodFor, Output: -1},
		controller.Event{Kind: controller.GuardActed, Output: -1, Guard: safety.Event{Kind: safety.Tripped, Bench: 0, Interlock: safety.HighLevel}},
		controller.Event{Kind: controller.GuardActed, Output: -1, Guard: safety.Event{Kind: safety.LatchedEvent, Bench: 0, Interlock: safety.HighLevel}},
		controller.Event{Kind: controller.GuardActed, Output: -1, Guard: safety.Event{Kind: safety.Tripped, Bench: -1, Interlock: safety.RestartStorm}},
		controller.Event{Kind: controller.GuardActed, Output: -1, Guard: safety.Event{Kind: safety.Tripped, Bench: 0, Interlock: safety.HandsIn}},
	)
	golden(t, "after.prom", scrape(t, r))
}

func TestMetricsAreLintClean(t *testing.T) {
	problems, err := testutil.CollectAndLint(newRig())
	require.NoError(t, err)
	assert.Empty(t, problems)
}

func TestRunTimeGrowsOnlyWhileTheOutputIsOn(t *testing.T) {
	r := newRig()
	run := func(at time.Duration) float64 {
		r.mono = at
		r.mu.Lock()
		defer r.mu.Unlock()
		return r.outputs[0].total(r.mono).Seconds()
	}
	assert.Zero(t, run(10*time.Second))
	r.turn(20*time.Second, switched(0, true))
	assert.Zero(t, run(20*time.Second))
	assert.Equal(t, 5.0, run(25*time.Second))
	assert.Equal(t, 30.0, run(50*time.Second))
	r.turn(60*time.Second, switched(0, false))
	assert.Equal(t, 40.0, run(60*time.Second))
	assert.Equal(t, 40.0, run(time.Hour))
	r.turn(2*time.Hour, switched(0, true))
	assert.Equal(t, 41.0, run(2*time.Hour+time.Second))
}

// A scrape may read the clock between the instant of a turn and the turn's
// word that the output went off.
func TestRunTimeNeverFalls(t *testing.T) {
	r := newRig()
	r.turn(0, switched(0, true))
	r.mono = 10*time.Second + 5*time.Millisecond
	r.mu.Lock()
	early := r.outputs[0].total(r.mono)
	r.mu.Unlock()
	r.turn(10*time.Second, switched(0, false))
	assert.Equal(t, early, r.outputs[0].total(r.mono))
}

func TestATurnWithoutEventsDoesNotAllocate(t *testing.T) {
	r := newRig()
	turn := loop.Turn{Now: safety.Now{Mono: time.Hour}}
	assert.Zero(t, testing.AllocsPerRun(100, func() { r.Turn(&turn) }))
}

func TestAScrapeMayComeDuringATurn(t *testing.T) {
	r := newRig()
	registry := prometheus.NewRegistry()
	registry.MustRegister(r)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range 20 {
			_, err := registry.Gather()
			assert.NoError(t, err)
		}
	}()
	for i := range 200 {
		r.Turn(&loop.Turn{Events: []controller.Event{switched(0, i%2 == 0)}})
	}
	<-done
	assert.Contains(t, string(scrape(t, r)), `benchtide_output_starts_total{output="flood_pump"} 100`)
}
