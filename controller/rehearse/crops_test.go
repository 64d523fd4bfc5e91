package rehearse

import (
	"flag"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/grow/outlook"
	"benchtide/hw/sim"
)

var pairSeeds = flag.Uint64("pairs", 1, "in how many wild natures each pair of plans is lived")

const (
	lateStage  = `cron: "0 8-17/3 * * *"`
	lateWait   = "can_wait: 20 h"
	coldSpring = "2026-03-02"
)

// pairs are two plans each, as what is altered in the example; which of them is better
// nobody has written down.
var pairs = []struct {
	name string
	a, b []string
}{
	{"four floods or one", nil, []string{lateStage, `flood_at: ["09:00"]`, lateWait, "can_wait: 30 h"}},
	{"four floods or nine", nil, []string{lateStage, `cron: "0 8-16 * * *"`}},
	{"two floods or one, in June", []string{"2026-03-02", "2026-06-01"}, []string{"2026-03-02", "2026-06-01", lateStage, `flood_at: ["09:00"]`, lateWait, "can_wait: 30 h"}},
	{"seedlings at a quarter or at full strength", nil, []string{"strength: 25 %", "strength: 100 %"}},
	{"full strength late or none", nil, []string{"strength: 100 %", "strength: 10 %"}},
	{"one flood a day or one in two", nil, []string{`flood_at: ["09:00"], `, `flood_at: ["09:00"], every: 2 d, `, "can_wait: 48 h", "can_wait: 60 h", "can_wait: 30 h", "can_wait: 60 h"}},
	{"in March or in June", nil, []string{coldSpring, "2026-06-01"}},
	{"in December or in May", []string{coldSpring, "2026-12-01"}, []string{coldSpring, "2026-05-01"}},
	{"lamps or none in winter", []string{coldSpring, "2026-12-01"}, []string{coldSpring, "2026-12-01", "\nplans:", "\nlamps: {on: \"06:00\", off: \"22:00\", flux: 150 umol/m2s}\n\nplans:"}},
	{"a heated house or a cold one", []string{"floor: drained}", "floor: drained, climate: {cover: 70 %, lows: 4 to 10 C, highs: 16 to 26 C, humidity: 50 to 80 %, light: 4 to 20 MJ/m2}}"},
		[]string{"floor: drained}", "floor: drained, climate: {cover: 70 %, lows: 14 to 18 C, highs: 16 to 26 C, humidity: 50 to 80 %, light: 4 to 20 MJ/m2}}"}},
}

const pairDays = 42

// forecast is by how many days the program expects the batch to be behind.
func forecast(t *testing.T, site *config.Site) float64 {
	g, _, err := outlook.Site(site)
	require.NoError(t, err)
	p, err := g.Prospect(0, site.Batches[0].Transplanted, pairDays)
	require.NoError(t, err)
	return p.Days()
}

// came is what then became of it, on average of some wild natures.
func came(t *testing.T, site *config.Site) (days float64) {
	wild, err := sim.NatureNamed("wild")
	require.NoError(t, err)
	for seed := range *pairSeeds {
		s := Plain(site.Batches[0].Transplanted, pairDays, 100+seed)
		s.Nature = wild
		rep, err := Run(t.Context(), site, s, Options{Crops: true, NoDrift: true, NoRows: true})
		require.NoError(t, err)
		days += rep.Crops["basil_spring"].Cost() / float64(*pairSeeds)
	}
	return days
}

// Of two plans the program's own forecast names the one that then does better in a
// nature that it does not know, eight times in ten.
func TestTheBetterOfTwoPlansIsNamedBeforeItIsKnown(t *testing.T) {
	named := 0
	for _, p := range pairs {
		a, b := altered(t, p.a...), altered(t, p.b...)
		expects, happens := forecast(t, a)-forecast(t, b), came(t, a)-came(t, b)
		t.Logf("%-45s expected %+6.1f, came to %+6.1f days", p.name, expects, happens)
		if expects*happens > 0 {
			named++
		}
	}
	assert.GreaterOrEqual(t, named, 8, "of %d pairs", len(pairs))
}

// Each cause does to a batch what it should, and nothing else is touched.
func TestACropSuffersFromWhatIsWrong(t *testing.T) {
	ends := func(oldNew ...string) CropEnd {
		site := altered(t, oldNew...)
		rep, err := Run(t.Context(), site, Plain(site.Batches[0].Transplanted, 21, 1), Options{Crops: true})
		require.NoError(t, err)
		return rep.Crops["basil_spring"]
	}
	plain, strong := ends(), ends("strength: 25 %", "strength: 100 %")
	assert.Greater(t, strong[sim.Salt].Delay, plain[sim.Salt].Delay+1)
	assert.Greater(t, strong.Lost(), plain.Lost()+0.05)
	for _, c := range []sim.Cause{sim.Dry, sim.Wet, sim.Cold, sim.Dark} {
		assert.InDelta(t, plain[c].Delay, strong[c].Delay, 1e-9, CropCauses[c])
	}
	warm := ends("floor: drained}", "floor: drained, climate: {cover: 70 %, lows: 14 to 18 C, highs: 18 to 34 C, humidity: 40 to 85 %, light: 4 to 27 MJ/m2}}")
	assert.Positive(t, plain[sim.Cold].Delay)
	assert.Zero(t, warm[sim.Cold])
	rep := rehearsed(t, example(t), plain21(t))
	assert.Nil(t, rep.Crops, "nobody asked")
}

func plain21(t *testing.T) Scenario { return Plain(example(t).Batches[0].Transplanted, 21, 1) }
