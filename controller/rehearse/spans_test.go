package rehearse

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/sheet"
	"benchtide/hw/sim"
)

var (
	hidden     = flag.Int("spans", 12, "how many hidden benches the spans of bench sheets are held against")
	hiddenSeed = flag.Uint64("spans.seed", 1, "of the benches and of what nature makes of them")
	hiddenIn   = flag.String("spans.nature", "wild", "what the benches are drawn from")
)

// anyBench is the text of a site with one bench of a plausible size, of which nothing
// was timed.
func anyBench(r *rand.Rand) string {
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	pick := func(of ...float64) float64 { return of[r.IntN(len(of))] }
	long, wide, crest := between(1, 3), between(0.6, 1.3), between(22, 42)
	lift := between(0.4, 1.1)
	head := (lift + 0.35) / between(0.35, 0.7)
	litres := long * wide * crest
	flow := litres / between(2, 6) * 60
	usable := litres*between(1.7, 3) + 50
	drain := "{through: pump}"
	if r.IntN(3) == 0 {
		drain = fmt.Sprintf("{bore: %.0f mm, length: 0.5 m}", pick(20, 25, 32))
	}
	inside := ""
	if r.IntN(2) == 0 {
		side := between(0.8, 1.3)
		inside = fmt.Sprintf("    inside: {length: %.2f m, width: %.2f m}\n", side, max(0.4, usable/1000/0.4/side))
	}
	return strings.NewReplacer(
		"usable: 200 L\n", fmt.Sprintf("usable: %.0f L\n%s", usable, inside), "at: 155 L", fmt.Sprintf("at: %.0f L", usable-8*long*wide),
		"length: 2.4 m, width: 1.2 m, rim: 75 mm", fmt.Sprintf("length: %.2f m, width: %.2f m, rim: %.0f mm", long, wide, crest+55),
		"crest: 30 mm, bore: 50 mm", fmt.Sprintf("crest: %.0f mm, bore: %.0f mm", crest, pick(40, 50, 63, 75)),
		"bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h", fmt.Sprintf("bore: %.0f mm, length: %.1f m, lift: %.2f m, max_head: %.2f m, max_flow: %.0f L/h",
			pick(16, 19, 25), lift+between(0.5, 3), lift, head, 1.6*flow),
		"{through: pump}", drain, "at: 26 mm", fmt.Sprintf("at: %.0f mm", crest-5), "at: 52 mm", fmt.Sprintf("at: %.0f mm", crest+32),
		"    cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}      # replaced by calibration\n", "",
		"pots: 96", fmt.Sprintf("pots: %.0f", long*wide*pick(15, 30, 45)),
	).Replace(string(config.Example))
}

// anySite is one of which the check of its file says nothing.
func anySite(t *testing.T, r *rand.Rand) *config.Site {
	for range 100 {
		if site, problems := config.Parse("bench.yaml", []byte(anyBench(r))); len(problems) == 0 {
			return site
		}
	}
	require.FailNow(t, "of a hundred files each is warned of")
	return nil
}

// seenFlood is what one flood of bench 0 came to, from outside.
type seenFlood struct {
	row    controller.Row
	truth  map[string]float64 // by the keys of the sheet
	report *Report
}

const lookEvery = 2 * time.Second

// floodOn watches the first flood of a day, counted from 0, on the site that is given;
// nobody times it.
func floodOn(t *testing.T, site *config.Site, s Scenario, day int) seenFlood {
	r, err := prepare(site, s, Options{})
	require.NoError(t, err)
	type look struct {
		at           time.Duration
		depth, stock float64
		pump         bool
	}
	var looks []look
	pump := site.Benches[0].Pump
	take := func() {
		looks = append(looks, look{r.world.Elapsed(), r.world.Depth(0), r.world.Litres(0), r.world.Running(pump)})
	}
	_, _, start, _ := s.span(site.Zone)
	from := s.From.AddDays(day).At(8 * 3600).In(site.Zone).Sub(start)
	for at := from; at < from+4*time.Hour; at += lookEvery {
		r.agenda.at(at, take)
	}
	require.NoError(t, r.play(context.Background()))
	f := seenFlood{report: r.report(), truth: map[string]float64{}}
	for _, row := range f.report.Ledger {
		if strings.HasPrefix(row.Due, s.From.AddDays(day).String()) && row.Started != nil {
			f.row = row
			break
		}
	}
	first := slices.IndexFunc(looks, func(l look) bool { return l.pump })
	if f.row.FillS == nil || f.row.FallS == nil || first < 0 {
		return f
	}
	f.truth["t_fill_s"], f.truth["t_fall_s"] = *f.row.FillS, *f.row.FallS
	begin, stopped, peak, least := looks[first], time.Duration(0), 0.0, looks[first].stock
	made := begin.at + time.Duration(*f.row.FillS*float64(time.Second))
	for _, l := range looks[first:] {
		peak, least = max(peak, l.depth), min(least, l.stock)
		if l.at <= made {
			f.truth["flow_l_per_h"] = (begin.stock - l.stock) / (l.at - begin.at + lookEvery/2).Hours()
		}
		if l.pump {
			stopped = l.at + lookEvery/2
		}
		if _, bare := f.truth["t_drain_s"]; stopped > 0 && !l.pump && l.depth < 0.001 && !bare {
			f.truth["t_drain_s"] = (l.at - stopped).Seconds()
		}
	}
	f.truth["v_flood_l"], f.truth["load_kg_per_m2"] = begin.stock-least, 1000*peak
	f.truth["overflow_head_mm"] = 1000 * (peak - float64(site.Benches[0].Standpipe.Crest))
	return f
}

// covered counts how often a figure lay in its span, below it and above.
type covered struct{ in, below, above int }

func (c *covered) add(is float64, span [2]float64) {
	switch {
	case is < span[0]:
		c.below++
	case is > span[1]:
		c.above++
	default:
		c.in++
	}
}

// tally holds the figures of one flood to the spans of its sheet.
func tally(into map[string]*covered, spans sheet.Spans, truth map[string]float64) {
	for key, is := range truth {
		if into[key] == nil {
			into[key] = &covered{}
		}
		into[key].add(is, spans[key])
	}
}

// The spans of benches that nobody has timed are held against benches that nature
// drew: what the file cannot tell is what a bench may be like.
func TestSpansHoldOnHiddenBenches(t *testing.T) {
	nature, err := sim.NatureNamed(*hiddenIn)
	require.NoError(t, err)
	untimed, timedSpans := map[string]*covered{}, map[string]*covered{}
	var proven, spilled, dry, notTimed int
	var width float64
	for n := range *hidden {
		r := rand.New(rand.NewPCG(*hiddenSeed, uint64(n)))
		site := anySite(t, r)
		s := Plain(date(t, "2026-03-02"), 3, r.Uint64())
		s.Nature = nature
		f := floodOn(t, site, s, 0)
		if f.row.Outcome == controller.Proven {
			proven++
		} else {
			t.Logf("bench %d: %s %s; weak %.2f", n, f.row.Outcome, f.row.Reason, site.Sheet(0).Weak)
		}
		if f.report.SpilledL > 0 {
			spilled++
		}
		if f.report.DryPumpS > 0 {
			dry++
		}
		if f.report.Floods[controller.Proven] > 1 {
			f = floodOn(t, site, s, 1)
		}
		sh := site.Sheet(0)
		width += (sh.Spans["t_fill_s"][1] - sh.Spans["t_fill_s"][0]) / sh.Fill.Seconds()
		tally(untimed, sh.Spans, f.truth)
		better, refused, err := Timed(t.Context(), site, site, &s)
		require.NoError(t, err)
		if len(refused) > 0 {
			notTimed++
			continue
		}
		tally(timedSpans, better.Sheet(0).Spans, floodOn(t, better, s, 2).truth)
	}
	var b strings.Builder
	for _, of := range []struct {
		name string
		of   map[string]*covered
	}{{"not timed", untimed}, {"timed", timedSpans}} {
		for _, key := range slices.Sorted(maps.Keys(of.of)) {
			c := of.of[key]
			all := c.in + c.below + c.above
			fmt.Fprintf(&b, "%-10s %-17s %3d of %3d, %3d %%; %d below, %d above\n", of.name, key, c.in, all, 100*c.in/all, c.below, c.above)
		}
	}
	t.Logf("%d hidden benches of %s: %d first floods proven, %d spilled, %d ran dry, %d not timed; mean width of t_fill_s %.2f\n%s",
		*hidden, *hiddenIn, proven, spilled, dry, notTimed, width/float64(*hidden), b.String())
	assert.Zero(t, spilled)
	assert.Zero(t, dry)
	assert.GreaterOrEqual(t, 100*proven, 90**hidden, "first floods proven")
	for key, c := range untimed {
		assert.GreaterOrEqual(t, 100*c.in, 70*(c.in+c.below+c.above), "%s of a bench that nobody timed", key)
	}
	for key, c := range timedSpans {
		assert.GreaterOrEqual(t, 100*c.in, 60*(c.in+c.below+c.above), "%s of a bench that was timed", key)
	}
	require.Len(t, untimed, 7)
}
