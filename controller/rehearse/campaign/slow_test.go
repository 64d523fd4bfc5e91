package campaign

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
	"benchtide/safety"
)

var (
	slowBenches = flag.Int("slow", 1, "on how many hidden benches to look for words of slow changes")
	slowDays    = flag.Int("slow.days", 90, "how long to live on each that is healthy, up to 360")
	slowSeed    = flag.Uint64("slow.seed", 1, "which benches those are")
	slowNature  = flag.String("slow.nature", "wild", "what they are drawn from")
	slowInto    = flag.String("slow.into", "", "a file for the tables of what was said")
)

// heard is what was said of slow changes on one bench.
type heard struct {
	found         []finding
	lost, latched int  // words of lost water, and latches
	weighs        bool // its reservoir has a float that weighs
	refused       bool // commissioning would refuse the bench
	err           error
}

type finding struct {
	drift.Finding
	at time.Time
}

// listen lives on a hidden bench that was timed as commissioning does it.
func listen(ctx context.Context, b *Built, s rehearse.Scenario) (h heard) {
	file, problems := config.Parse("bench.yaml", []byte(b.File))
	if h.err = problems.Err(); h.err != nil {
		return h
	}
	site, refused, err := rehearse.Timed(ctx, file, b.Site, &s)
	if h.err, h.refused = err, len(refused) > 0; err != nil || h.refused {
		return h
	}
	h.weighs = site.Reservoirs[0].Level != nil
	var now time.Time
	watch := drift.NewWatch(rehearse.Drift(site), site.Zone, func(f drift.Finding, _ controller.Message) {
		h.found = append(h.found, finding{f, now})
	})
	report, err := rehearse.Run(ctx, site, s, rehearse.Options{Built: b.Site, Timed: true, NoRows: true, NoDrift: true, Each: func(m rehearse.Observation) {
		now = m.True
		watch.Turn(&loop.Turn{Names: &controller.Names{Benches: []string{site.Benches[0].Name}}, Events: m.Turn.Events})
		for i := range m.Turn.Events {
			if e := &m.Turn.Events[i]; e.Kind == controller.MessageSent && e.Message.Cause == controller.LostCause && !e.Message.Gone {
				h.lost++
			}
		}
	}})
	if h.err = err; err != nil {
		return h
	}
	for _, t := range report.Trips {
		if t.Interlock == safety.LostWater {
			h.latched++
		}
	}
	return h
}

const (
	slowFrom = 40            // days until a bench begins to change
	slowOver = 60            // days that it takes
	slowBy   = 0.3           // of its flow that is gone then
	slowLife = slowFrom + 80 // days that it is lived on
)

// slowing is what becomes slower, what it is named, and the time that tells.
var slowing = []struct {
	what   string
	cause  drift.Cause
	slower func(*drift.Finding) float64
}{
	{"pump-weak", drift.PumpWeak, func(f *drift.Finding) float64 { return f.Fill }},
	{"drain-blocked", drift.DrainBlocks, func(f *drift.Finding) float64 { return f.Fall }},
}

// slowly is what became of one bench, healthy and with each change.
type slowly struct {
	healthy heard
	changed []heard
	start   time.Time // of the changes
	number  int
}

func liveSlowly(ctx context.Context, nature *rehearse.Nature, i int) (v slowly) {
	v.number = i
	r := rand.New(rand.NewPCG(*slowSeed, uint64(i)))
	b, err := DrawBuilt(ctx, r)
	if err != nil {
		v.healthy.err = err
		return v
	}
	s := rehearse.Plain(firstDay, *slowDays, r.Uint64()>>12)
	s.Nature = nature
	if v.healthy = listen(ctx, &b, s); v.healthy.refused || v.healthy.err != nil {
		return v
	}
	s.From, s.Days = firstDay.AddDays(r.IntN(360-slowLife)), slowLife
	v.start = s.From.AddDays(slowFrom).At(0).In(b.Site.Zone)
	for _, g := range slowing {
		ill := s
		ill.Faults = []rehearse.Fault{{What: g.what, Where: b.Site.Benches[0].Name, At: v.start, Over: slowOver * 24 * time.Hour, Size: slowBy}}
		v.changed = append(v.changed, listen(ctx, &b, ill))
	}
	return v
}

// named is when a change was named, and how much.
type named struct {
	n, never, other int       // benches, those where nobody was told of it, and those where another cause was named first
	gone            []float64 // of the flow when it was named
	off             []float64 // how far the time that was told of lay from the true one, as a share of it
}

func (k *named) see(g int, h *heard, start time.Time) {
	k.n++
	for i := range h.found {
		f := &h.found[i]
		if f.Cause == drift.NearLimit || f.at.Before(start) {
			continue
		}
		if f.Cause != slowing[g].cause {
			k.other++
			return
		}
		gone := slowBy * min(1, f.at.Sub(start).Hours()/24/slowOver)
		k.gone = append(k.gone, gone)
		k.off = append(k.off, math.Abs(math.Expm1(slowing[g].slower(&f.Finding)+math.Log1p(-gone))))
		return
	}
	k.never++
}

// within is how many are no more than a tenth.
func within(x []float64) (n int) {
	for _, v := range x {
		if v <= 0.1 {
			n++
		}
	}
	return n
}

func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Sorted(slices.Values(x))
	return x[min(len(x)-1, int(q*float64(len(x))))]
}

// Words of slow changes on hidden benches where nothing changes, and where pump or way
// home become slower by a known rate.
func TestWordsOfSlowChangesOnHiddenBenches(t *testing.T) {
	t.Parallel()
	nature, err := sim.NatureNamed(*slowNature)
	require.NoError(t, err)
	var slow, near, lost, latched, benches, weighed, refused int
	causes := map[drift.Cause]int{}
	changes := make([]named, len(slowing))
	err = InOrder(t.Context(), *slowBenches, 2, nil, func(ctx context.Context, i int) slowly { return liveSlowly(ctx, nature, i) }, func(_ int, v slowly) error {
		h := &v.healthy
		if h.err != nil || h.refused {
			refused++
			return h.err
		}
		benches++
		if h.weighs {
			weighed++
		}
		lost, latched = lost+h.lost, latched+h.latched
		for i := range h.found {
			causes[h.found[i].Cause]++
			t.Logf("bench %d, %s: %s", v.number, h.found[i].at.Format(time.DateOnly), h.found[i].String())
			if h.found[i].Cause == drift.NearLimit {
				near++
			} else {
				slow++
			}
		}
		for g := range v.changed {
			if v.changed[g].err != nil {
				return v.changed[g].err
			}
			changes[g].see(g, &v.changed[g], v.start)
		}
		return nil
	})
	require.NoError(t, err)
	var text strings.Builder
	decades := float64(benches**slowDays) / decade
	weighing := float64(weighed**slowDays) / decade
	fmt.Fprintf(&text, "%d healthy benches, %d days on each; commissioning would refuse %d more.\n\n| words of | counted | bench-decades | a bench-decade | at most, 95 %% |\n|---|---|---|---|---|\n", benches, *slowDays, refused)
	for _, row := range []struct {
		of      string
		n       int
		decades float64
	}{{"a slow change", slow, decades}, {"a time near its limit", near, decades}, {"lost water, where a float weighs", lost, weighing}, {"lost water, latched", latched, weighing}} {
		fmt.Fprintf(&text, "| %s | %d | %.1f | %.2f | %.2f |\n", row.of, row.n, row.decades, float64(row.n)/max(row.decades, 1e-9), most(row.n)/max(row.decades, 1e-9))
	}
	fmt.Fprintf(&text, "\n%.0f %% of the flow go, evenly over %d days.\n\n| what | benches | named | another cause first | nobody told | gone when named: median, 95 %% | with a tenth gone at most | time told of, off by: median, 95 %% | within a tenth |\n|---|---|---|---|---|---|---|---|---|\n", 100*slowBy, slowOver)
	for g, k := range changes {
		fmt.Fprintf(&text, "| %s | %d | %d | %d | %d | %.1f %%, %.1f %% | %d | %.1f %%, %.1f %% | %d |\n", slowing[g].what, k.n, len(k.gone), k.other, k.never,
			100*quantile(k.gone, 0.5), 100*quantile(k.gone, 0.95), within(k.gone), 100*quantile(k.off, 0.5), 100*quantile(k.off, 0.95), within(k.off))
	}
	t.Log(text.String())
	t.Log(causes)
	if *slowInto != "" {
		require.NoError(t, os.WriteFile(*slowInto, []byte(text.String()), 0o600))
	}
	assert.LessOrEqual(t, float64(slow), max(1, 10*decades))
	assert.LessOrEqual(t, float64(near), max(1, decades))
	assert.LessOrEqual(t, float64(lost), max(1, 4*weighing))
	assert.LessOrEqual(t, float64(latched), max(0, weighing))
	for g, k := range changes {
		assert.GreaterOrEqual(t, 10*len(k.gone), 7*k.n, slowing[g].what)
	}
}
