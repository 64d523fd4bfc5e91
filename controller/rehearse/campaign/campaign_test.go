package campaign

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
)

func TestTheReportFollowsFromYearsAndSeedWhateverTheWorkers(t *testing.T) {
	var all []string
	for _, workers := range []int{1, 3} {
		rep, err := Run(t.Context(), Options{Years: 2, Seed: 7, Workers: workers})
		require.NoError(t, err)
		text, err := json.Marshal(rep)
		require.NoError(t, err)
		all = append(all, string(text))
	}
	assert.Equal(t, all[0], all[1])
}

func TestYearsOfRandomTroubleBreakNothing(t *testing.T) {
	rep, err := Run(t.Context(), Options{Years: 4, Seed: 1})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, rep.BenchYears, 4)
	assert.Equal(t, years*months*rep.Sites, rep.Months)
	assert.Equal(t, rep.Months, rep.NoFault.Months+rep.Alone.Months+rep.Pairs.Months)
	assert.Greater(t, rep.Floods[controller.Proven], 500)
	assert.Empty(t, rep.Failures)

	var text strings.Builder
	require.NoError(t, rep.WriteText(&text))
	assert.Contains(t, text.String(), "Nothing broke.")
	assert.Regexp(t, `relay-welded .* F01 F04 F12\n`, text.String())
}

// Benches that are not those of their files, another one each month.
func TestYearsOfTroubleOnBenchesThatNatureDrewBreakNothing(t *testing.T) {
	wild, err := sim.NatureNamed("wild")
	require.NoError(t, err)
	rep, err := Run(t.Context(), Options{Years: 2, Seed: 7, Nature: wild})
	require.NoError(t, err)
	assert.Equal(t, "wild", rep.Nature)
	assert.Empty(t, rep.Failures)
	plain, err := Run(t.Context(), Options{Years: 2, Seed: 7})
	require.NoError(t, err)
	assert.NotEqual(t, plain.Trips, rep.Trips)
}

// exampleMonth is a month of the example bench, mended as every month is.
func exampleMonth(t *testing.T, faults ...rehearse.Fault) (*DrawnSite, *rehearse.Scenario) {
	site, problems := config.Parse("bench.yaml", config.Example)
	require.NoError(t, problems.Err())
	s := &rehearse.Scenario{From: monthFrom(3), Days: 30, Seed: 1, Weather: "hot", Attended: true, Faults: faults}
	start := s.From.At(0).In(site.Zone)
	for i := range s.Faults {
		s.Faults[i].At, s.Faults[i].Size = start.Add(3*24*time.Hour), all
	}
	mend(s, site, func(d time.Duration) time.Time { return start.Add(d) })
	return &DrawnSite{Text: string(config.Example), Site: site}, s
}

func judged(t *testing.T, p *DrawnSite, s *rehearse.Scenario) *judgement {
	j, err := liveMonth(t.Context(), p, s)
	require.NoError(t, err)
	return j
}

// A judge that cannot find anything proves nothing: each test here has one
// thing wrong.

func TestAMonthWithoutTroubleIsFine(t *testing.T) {
	p, s := exampleMonth(t)
	j := judged(t, p, s)
	assert.Empty(t, j.charges)
	assert.Positive(t, j.waited)
}

func TestACropThatStaysDryIsFound(t *testing.T) {
	p, s := exampleMonth(t, rehearse.Fault{What: "pump-dead", Where: "north"}) // never mended
	j := judged(t, p, s)
	require.Equal(t, []string{unwatered}, j.kinds())
	assert.Contains(t, j.charges[0].Text, "basil_spring on north was without water for ")
}

func TestWaterPastTheBoundIsFound(t *testing.T) {
	p, s := exampleMonth(t, rehearse.Fault{What: "hose-off", Where: "north", For: 48 * time.Hour})
	j := judged(t, p, s)
	require.Empty(t, j.charges)
	require.Greater(t, j.report.SpilledL, 10.0)
	s.Faults[0].What = "pump-dead" // as if no hose were to blame
	j.judge()
	assert.Equal(t, []string{spilled}, j.kinds())
	j.charges = nil
	s.Faults[0].What = "hose-off"
	j.report.SpilledL = j.allowance().litres + 0.1
	j.judge()
	assert.Equal(t, []string{spilled}, j.kinds())
}

func TestADryRunPastTheBoundIsFound(t *testing.T) {
	p, s := exampleMonth(t)
	j := judged(t, p, s)
	j.longestDry = dryFor + 1
	j.judge()
	assert.Equal(t, []string{ranDry}, j.kinds())
}

// A hose that comes off while its pump runs may run that pump dry; one that was off
// before may not.
func TestTheFloodInWhichAHoseComesOffMayRunDry(t *testing.T) {
	p, s := exampleMonth(t, rehearse.Fault{What: "hose-off", Where: "north", For: 48 * time.Hour, Size: 0.3})
	j := judged(t, p, s)
	first := j.start.Add(j.starts[0].at)
	j.longestDry = time.Minute
	for into, kinds := range map[time.Duration][]string{-time.Second: {ranDry}, time.Minute: nil, 2 * time.Hour: {ranDry}} {
		j.charges = nil
		j.scenario.Faults[0].At = first.Add(into)
		j.allowed = j.allowance()
		j.judgeBounds()
		assert.Equal(t, kinds, j.kinds(), "%s into the flood", into)
	}
}

func TestHarmInSilenceIsFound(t *testing.T) {
	p, s := exampleMonth(t, rehearse.Fault{What: "pump-dead", Where: "north", For: 48 * time.Hour})
	j := judged(t, p, s)
	require.Empty(t, j.charges)
	j.messages = nil
	j.judge()
	assert.Equal(t, []string{silent}, j.kinds())
	assert.Contains(t, j.charges[0].Text, "of north is unproven (fill-window: FULL was not made within ")
}

func TestAWetFloorInSilenceIsFound(t *testing.T) {
	p, s := exampleMonth(t)
	text := strings.Replace(p.Text, "    full_switch:", "    leak_switch: {line: GPIO17, water: opens}\n    full_switch:", 1)
	site, problems := config.Parse("bench.yaml", []byte(text))
	require.NoError(t, problems.Err())
	j := judged(t, &DrawnSite{Text: text, Site: site}, s)
	require.Empty(t, j.charges)
	j.spills, j.messages = []spill{{time.Hour, 0.5}, {2 * time.Hour, 2}}, []note{{at: 2*time.Hour + tellWithin + 1}}
	j.judge()
	assert.Equal(t, []Charge{{silent, "2.0 L on the floor by 2h0m0s and nobody was told"}}, j.charges)
}

func TestABrokenInvariantIsACharge(t *testing.T) {
	p, s := exampleMonth(t)
	j := judged(t, p, s)
	j.report.BrokenInvariants = []string{"invariant 4: north: …"}
	j.judge()
	assert.Equal(t, []Charge{{invariant, "invariant 4: north: …"}}, j.charges)
}

// A crop stays dry whatever was wrong while nobody mends it, so what mends it is
// kept.
func TestAFailedMonthIsMadeSmaller(t *testing.T) {
	p, s := exampleMonth(t, rehearse.Fault{What: "cold", Where: "tank", For: time.Hour}, rehearse.Fault{What: "pump-dead", Where: "north"})
	mending := len(s.Acts)
	s.Acts = slices.Insert(s.Acts, 0, rehearse.Act{Do: "skip", Where: "north", At: s.From.At(0).In(p.Site.Zone).Add(troubleFrom)})
	j := judged(t, p, s)
	require.NotEmpty(t, j.charges)
	rep := newReport(&Options{Seed: 3})
	f, err := rep.failure(t.Context(), &Options{Seed: 3}, 5, 3, p, j)
	require.NoError(t, err)
	assert.Equal(t, 4, f.Month)
	assert.Contains(t, f.Scenario, "# campaign of seed 3, site 5, month 4\n# unwatered: basil_spring on north")
	assert.Contains(t, f.Scenario, "what: pump-dead, where: north")
	assert.NotContains(t, f.Scenario, "cold")
	assert.NotContains(t, f.Scenario, "do: skip")
	assert.Contains(t, f.Scenario, "weather: normal")
	small, err := rehearse.ParseScenario("s.yaml", []byte(f.Scenario), p.Site)
	require.NoError(t, err)
	assert.Len(t, small.Acts, mending)
	assert.Equal(t, []string{unwatered}, judged(t, p, &small).kinds())
	require.Len(t, f.FirstOut, firsts)
	rep.Failures = append(rep.Failures, f)
	var text strings.Builder
	require.NoError(t, rep.WriteText(&text))
	assert.Contains(t, text.String(), "Months that failed: 1\n\nSite 5, month 4\n  unwatered: ")
	assert.Contains(t, text.String(), "what: pump-dead, where: north")
	assert.True(t, slices.ContainsFunc(f.FirstOut[:2], func(s string) bool { return strings.Contains(s, "north: fill-window acted") }), f.FirstOut[:2])
}

// Every kind of fault is drawn, somewhere it can happen, and is over by the time
// at which all is mended.
func TestEveryFaultIsDrawnAndEnds(t *testing.T) {
	seen := map[string]bool{}
	for n := range uint64(12) {
		r := rand.New(rand.NewPCG(5, n))
		p, err := drawSite(context.Background(), r, 2)
		require.NoError(t, err)
		for m := range 6 * months {
			s := drawMonth(r, p.Site, m%months)
			over := s.From.At(0).In(p.Site.Zone).Add(mended)
			for _, f := range s.Faults {
				seen[f.What] = true
				k := kinds[slices.IndexFunc(kinds, func(k kind) bool { return k.what == f.What })]
				assert.Contains(t, k.places(p.Site), f.Where, f.What)
				if f.What != clockJump {
					assert.False(t, f.At.Add(f.For).After(over), "%s at %s for %s", f.What, f.At, f.For)
				}
			}
		}
	}
	for _, k := range kinds {
		assert.True(t, seen[k.what], k.what)
	}
}
