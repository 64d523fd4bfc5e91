package campaign

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

var (
	leakSites = flag.Int("leaksites", 1, "on how many drawn sites small table leaks are lived through")
	leakSeed  = flag.Uint64("leaksites.seed", 720000, "which sites those are")
)

// smallLeaks are shares of the flow that a table loses.
var smallLeaks = []float64{0.05, 0.07, 0.1, 0.14, 0.17, 0.2, 0.25, 0.3}

// livedLeak is a month with a small table leak.
type livedLeak struct {
	told   int     // by which flood of the leak a person was told; never when nobody was
	litres float64 // lost a flood
}

// leakingMonths lives through four months of the year on one site, with each leak.
func leakingMonths(t *testing.T, p *DrawnSite, floats rehearse.Options, seed uint64) [][]livedLeak {
	t.Helper()
	all := make([][]livedLeak, len(smallLeaks))
	bench := &p.Site.Benches[0]
	for m := 0; m < months; m += 3 {
		for n, size := range smallLeaks {
			s := rehearse.Plain(monthFrom(m), int(monthFrom(m+1)-monthFrom(m)), seed*100+uint64(m))
			s.Weather = pick(rand.New(rand.NewPCG(seed, uint64(m))), "mild", "normal", "hot")
			at := monthFrom(m).AddDays(2).At(6 * 3600).In(p.Site.Zone)
			s.Faults = []rehearse.Fault{{What: "table-leak", Where: bench.Name, At: at, Size: size}}
			floods, told := 0, never
			o := floats
			o.Each = func(at rehearse.Observation) {
				for i := range at.Turn.Events {
					switch e := &at.Turn.Events[i]; {
					case e.Kind == controller.PumpStarted && e.Bench == 0 && at.True.After(s.Faults[0].At):
						floods++
					case e.Kind == controller.MessageSent && floods > 0 && ofLostWater(&e.Message):
						told = min(told, floods)
					}
				}
			}
			report, err := rehearse.Run(t.Context(), p.Site, s, o)
			require.NoError(t, err)
			all[n] = append(all[n], livedLeak{told, report.SpilledL / float64(max(1, floods))})
		}
	}
	return all
}

func ofLostWater(m *controller.Message) bool {
	return !m.Gone && m.Urgency != controller.ThisWeek &&
		(strings.HasPrefix(m.Cause, controller.LostCause) || m.Cause == string(safety.LostWater) || m.Cause == string(safety.FillWindow))
}

// TestSmallTableLeaksAreToldInTheEnd tells what becomes of leaks that hide in what
// weighings err and plants may drink, where each fill passes a switch.
func TestSmallTableLeaksAreToldInTheEnd(t *testing.T) {
	t.Parallel()
	all := make([][]livedLeak, len(smallLeaks))
	for seed, sites := *leakSeed, 0; sites < *leakSites; seed++ {
		r := rand.New(rand.NewPCG(seed, 77))
		p, err := drawSite(t.Context(), r, 1)
		require.NoError(t, err)
		if b := &p.Site.Benches[0]; b.Full == nil || b.Leak != nil || p.Site.Reservoirs[b.Reservoir].Level == nil {
			continue
		}
		sites++
		for n, more := range leakingMonths(t, p, rehearse.Options{Pipes: p.pipes, NoDrift: true, Bands: bands(r, p)}, seed) {
			all[n] = append(all[n], more...)
		}
	}
	share := make([]float64, len(smallLeaks))
	for n, size := range smallLeaks {
		var by []int
		var litres []float64
		for _, m := range all[n] {
			litres = append(litres, m.litres)
			if m.told < never {
				by = append(by, m.told)
			}
		}
		slices.Sort(by)
		slices.Sort(litres)
		share[n] = float64(len(by)) / float64(len(all[n]))
		half := "—"
		if len(by) > 0 {
			half = fmt.Sprint(by[(len(by)-1)/2])
		}
		t.Logf("%.0f %%: told in %d of %d months, half of those by flood %s; half of them lose up to %.1f L a flood", 100*size, len(by), len(all[n]), half, litres[len(litres)/2])
	}
	assert.GreaterOrEqual(t, share[len(share)-1], 0.5, "of 30 %% most are told")
	assert.Greater(t, share[len(share)-1], share[0])
}
