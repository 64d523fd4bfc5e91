package daemon

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/deploy/measure/cost"
	"benchtide/hw"
	"benchtide/hw/sim"
	"benchtide/hw/sim/realtime"
	"benchtide/safety"
	"benchtide/schedule"
)

// many is the example with so many benches, each with its own pump, reservoir
// and batch, all behind one enable relay.
func many(t testing.TB, benches int) *config.Site { return crowded(t, benches, 1) }

// crowded is many with as many batches on each bench, one planted a day after
// the other.
func crowded(t testing.TB, benches, each int) *config.Site {
	t.Helper()
	var outputs, reservoirs, tables, batches strings.Builder
	for i := range benches {
		fmt.Fprintf(&outputs, "  pump_%d: {line: P%d, energise: low, kind: pump}\n", i, i)
		fmt.Fprintf(&reservoirs, "  tank_%d: {usable: 200 L, keep: 20 L, low_switch: {line: L%d, at: 155 L, water: closes}}\n", i, i)
		fmt.Fprintf(&tables, `  bench_%d:
    reservoir: tank_%d
    pump: pump_%d
    table: {length: 2.4 m, width: 1.2 m, rim: 75 mm}
    standpipe: {crest: 30 mm, bore: 50 mm}
    supply: {bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h}
    drain: {through: pump}
    full_switch: {line: F%d, at: 26 mm, water: closes}
    high_switch: {line: H%d, at: 52 mm, water: opens}
`, i, i, i, i, i)
		for k := range each {
			planted := schedule.DateOf(2026, 3, 2).AddDays(k % 28)
			fmt.Fprintf(&batches, "  - {name: basil_%d_%d, plan: basil, bench: bench_%d, transplanted: %s, pots: %d, pot: {top: 9 cm, volume: 0.35 L}, substrate: peat}\n", i, k, i, planted, max(1, 96/each))
		}
	}
	text := "site: {name: Many benches, timezone: Europe/Dublin, latitude: 53.2, longitude: -7.1, floor: drained}\nboard: simulated\noutputs:\n" +
		outputs.String() + "  enable: {line: E, energise: high, kind: enable}\nreservoirs:\n" + reservoirs.String() + "benches:\n" + tables.String() +
		"plans:\n  basil:\n    - {from_day: 0, flood_at: [\"08:30\", \"15:00\"], hold: 6 min, strength: 50 %, can_wait: 30 h}\nbatches:\n" + batches.String()
	site, problems := config.Parse("many.yaml", []byte(text))
	require.NoError(t, problems.Err())
	return site
}

// idle is a machine on which a millisecond goes by at each look at its clock and
// nothing happens to the water.
type idle struct {
	*sim.World
	begun safety.Now
	gone  atomic.Int64
}

func (m *idle) Now() safety.Now {
	gone := time.Duration(m.gone.Add(int64(time.Millisecond)))
	now := m.begun
	now.Mono, now.Wall = now.Mono+gone, now.Wall.Add(gone)
	return now
}

func (m *idle) mono() time.Duration { return m.begun.Mono + time.Duration(m.gone.Load()) }

// afterTheLast is a time of day after which no flood is planned.
const afterTheLast = 16 * time.Hour

func idleMachine(t testing.TB, site *config.Site) machine {
	at := site.Batches[0].Transplanted.AddDays(5).At(0).In(site.Zone).Add(afterTheLast)
	world, err := rehearse.NewWorld(site, at)
	require.NoError(t, err)
	m := &idle{World: world, begun: world.Now()}
	return machine{clock: m, mono: m.mono, board: world, boot: "test"}
}

// put is a daemon put together on a machine.
func put(t testing.TB, site *config.Site, m machine) *daemon { return putIn(t, t.TempDir(), site, m) }

// putIn is put with its record in a directory.
func putIn(t testing.TB, dir string, site *config.Site, m machine) *daemon {
	k, err := openRecord(kept{dir: dir}, site)
	require.NoError(t, err)
	manager, err := newServiceManager()
	require.NoError(t, err)
	out := newLines(io.Discard)
	d, err := newDaemon(k, m, manager, newJournal(out, false, false))
	require.NoError(t, err)
	t.Cleanup(func() {
		d.api.Close()
		require.NoError(t, k.close())
		out.Close()
	})
	return d
}

// leaping is the machine's clock, which can be sent ahead.
type leaping struct {
	*hw.SystemClock
	ahead atomic.Int64
}

func (c *leaping) Now() safety.Now {
	now := c.SystemClock.Now()
	ahead := time.Duration(c.ahead.Load())
	now.Mono, now.Wall = now.Mono+ahead, now.Wall.Add(ahead)
	return now
}

func (c *leaping) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	return c.SystemClock.Wait(ctx, until-time.Duration(c.ahead.Load()), wake)
}

// running is a daemon that runs on simulated benches beside the machine's clock,
// rested.
func running(t testing.TB, site *config.Site, sinks ...loop.Sink) *daemon {
	return runningIn(t, t.TempDir(), site, sinks...)
}

// runningIn is running with its record in a directory.
func runningIn(t testing.TB, dir string, site *config.Site, sinks ...loop.Sink) *daemon {
	clock := &leaping{SystemClock: hw.NewSystemClock()}
	world, err := rehearse.NewWorld(site, clock.Now().Wall)
	require.NoError(t, err)
	d := putIn(t, dir, site, machine{
		clock: clock, mono: func() time.Duration { return clock.Now().Mono }, board: realtime.NewBoard(world, clock, site.Limits()), boot: hw.BootID(), deadMan: true, sinks: sinks,
	})
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error)
	go func() { done <- d.loop.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-done)
	})
	require.NoError(t, d.loop.Do(ctx, loop.Lapses, func(loop.Core) error {
		clock.ahead.Store(int64(time.Hour)) // a pump rests after every start
		return nil
	}))
	return d
}

// growth is over how many benches costs are followed.
var growth = []int{1, 4, 16, 64, 256}

// BenchmarkTurn is one turn of the whole daemon's loop, its benches at rest.
func BenchmarkTurn(b *testing.B) {
	for _, n := range []int{1, 4, 8, 16, 32, 64, 128, 256} {
		b.Run(fmt.Sprintf("benches=%d", n), func(b *testing.B) { benchmarkTurn(b, many(b, n)) })
	}
}

// BenchmarkCrowdedTurn is a turn of a site of one bench with many batches.
func BenchmarkCrowdedTurn(b *testing.B) {
	for _, n := range []int{1, 4, 16, 64} {
		b.Run(fmt.Sprintf("batches=%d", n), func(b *testing.B) { benchmarkTurn(b, crowded(b, 1, n)) })
	}
}

func benchmarkTurn(b *testing.B, site *config.Site) {
	d := put(b, site, idleMachine(b, site))
	d.loop.Turn()
	b.ReportAllocs()
	begun := cost.Used()
	for b.Loop() {
		d.loop.Turn()
	}
	cost.Report(b, begun)
}

// benchmarkAnswer is an answer to somebody who has asked before: what is worked
// out once a while has been.
func benchmarkAnswer(b *testing.B, path string) {
	for _, n := range growth {
		b.Run(fmt.Sprintf("benches=%d", n), func(b *testing.B) {
			h := running(b, many(b, n)).handler()
			size := answer(b, h, path)
			b.ReportAllocs()
			begun := cost.Used()
			for b.Loop() {
				size = answer(b, h, path)
			}
			cost.Report(b, begun)
			b.ReportMetric(float64(size), "B/answer")
		})
	}
}

// answer is how long the answer to a question is.
func answer(b *testing.B, h http.Handler, path string) int {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	require.Equal(b, http.StatusOK, w.Code, path)
	return w.Body.Len()
}

// BenchmarkMetrics is one scrape.
func BenchmarkMetrics(b *testing.B) { benchmarkAnswer(b, "/metrics") }

// BenchmarkStatus is one snapshot of the site, as the page is sent each second.
func BenchmarkStatus(b *testing.B) { benchmarkAnswer(b, "/api/v1/status") }

// BenchmarkOverview is all that the page first asks of the API.
func BenchmarkOverview(b *testing.B) { benchmarkAnswer(b, "/api/v1/overview") }

// BenchmarkOutlook is what plants will need in two weeks, worked out at most
// each half minute.
func BenchmarkOutlook(b *testing.B) {
	for _, n := range growth {
		b.Run(fmt.Sprintf("benches=%d", n), func(b *testing.B) { benchmarkOutlook(b, many(b, n)) })
	}
}

// BenchmarkCrowdedOutlook is that of one bench with many batches.
func BenchmarkCrowdedOutlook(b *testing.B) {
	for _, n := range []int{1, 4, 16, 64} {
		b.Run(fmt.Sprintf("batches=%d", n), func(b *testing.B) { benchmarkOutlook(b, crowded(b, 1, n)) })
	}
}

func benchmarkOutlook(b *testing.B, site *config.Site) {
	from := site.Batches[0].Transplanted.AddDays(30)
	begun := cost.Used()
	for b.Loop() {
		_, err := outlook.Of(site, from, 14, nil)
		require.NoError(b, err)
	}
	cost.Report(b, begun)
}
