package metrics

import (
	"fmt"
	"net/http/httptest"
	"strings"
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
)

// large is a site of so many benches, each with all its switches, its own pump,
// reservoir and batch.
func large(benches int) Site {
	s := Site{Snapshot: func() *loop.Snapshot { return nil }, Mono: func() time.Duration { return 0 }}
	for i := range benches {
		name := func(what string) string { return fmt.Sprintf("%s_%d", what, i) }
		s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: name("pump"), Kind: safety.FloodPump, Enable: -1})
		s.Limits.Reservoirs = append(s.Limits.Reservoirs, safety.ReservoirLimits{Name: name("tank"), Low: true})
		s.Limits.Benches = append(s.Limits.Benches, safety.BenchLimits{Name: name("bench"), Full: true, High: true, Empty: true, Leak: true})
		s.Batches = append(s.Batches, name("batch"))
	}
	return s
}

// What a site shows is bounded by its file: so many series for the program and
// so many for each bench, whatever happens there.
func TestSeriesAreBoundedByTheFile(t *testing.T) {
	count := func(benches int) int {
		registry := prometheus.NewPedanticRegistry()
		require.NoError(t, registry.Register(New(large(benches))))
		n, err := testutil.GatherAndCount(registry)
		require.NoError(t, err)
		return n
	}
	one, two, hundred := count(1), count(2), count(100)
	each := two - one
	assert.Equal(t, one+99*each, hundred, "each bench adds as many as any other")
	assert.LessOrEqual(t, each, 80, "a bench")
	assert.LessOrEqual(t, one-each, 40, "the program itself")
	t.Logf("%d series and %d a bench, a histogram counted as one", one-each, each)
}

func TestNothingThatHappensAddsASeries(t *testing.T) {
	r := newRig()
	before := testutil.CollectAndCount(r)
	for _, i := range safety.Interlocks {
		for _, bench := range []int{0, -1} {
			r.turn(time.Hour, controller.Event{Kind: controller.GuardActed, Output: -1, Guard: safety.Event{Kind: safety.Tripped, Bench: bench, Interlock: i}})
		}
	}
	for _, o := range controller.Outcomes {
		r.turn(2*time.Hour, controller.Event{Kind: controller.FloodEnded, Output: -1, Flood: controller.Flood{Outcome: o, Fill: time.Minute, Fall: time.Minute}})
	}
	r.turn(3*time.Hour, switched(0, true), switched(1, true))
	assert.Equal(t, before, testutil.CollectAndCount(r))
}

func TestAScrapeMayAskForOpenMetrics(t *testing.T) {
	registry := prometheus.NewRegistry()
	require.NoError(t, registry.Register(newRig()))
	request := httptest.NewRequest("GET", "/metrics", nil)
	request.Header.Set("Accept", "application/openmetrics-text; version=1.0.0")
	w := httptest.NewRecorder()
	promhttp.HandlerFor(registry, promhttp.HandlerOpts{EnableOpenMetrics: true}).ServeHTTP(w, request)
	assert.Contains(t, w.Header().Get("Content-Type"), "application/openmetrics-text")
	assert.Contains(t, w.Body.String(), "# TYPE benchtide_floods counter\n")
	assert.True(t, strings.HasSuffix(w.Body.String(), "# EOF\n"))
}
