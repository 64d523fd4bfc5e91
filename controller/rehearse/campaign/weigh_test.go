package campaign

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

var (
	weighSites = flag.Int("weighed", 3, "how many sites to weigh on")
	weighSeed  = flag.Uint64("weighed.seed", 0, "which sites those are")
)

// weighing is what the weighings of one site came to.
type weighedSite struct {
	errors       []float64 // litres that each weighing was out by
	changes      []float64 // and by how much that changed from one to the next
	floods, read int       // floods of reservoirs with a float that weighs, and weighings of any reservoir
	weigh        int       // of those floods
	within       int       // weighings whose truth lies within what they give or take
	words        int       // that water was lost, where none was
	latched      int
	days         int // of a bench
	shared       int // of those, on a reservoir that several benches share
	thick        int // and with a float of more than 5 mm
}

// bands draws how far below where they are made the floats of a site turn back,
// and has the file say so, as well as a person measures it, of those that are no
// ordinary ones.
func bands(r *rand.Rand, p *DrawnSite) (truth []quantity.Metres) {
	for k := range p.Site.Reservoirs {
		truth = append(truth, quantity.Metres(between(r, 0.002, 0.008)))
		p.Site.Reservoirs[k].LevelBand, p.Site.Reservoirs[k].LowBand = 0, 0
		if said := truth[k] * quantity.Metres(between(r, 0.8, 1.2)); truth[k] > 0.004 {
			p.Site.Reservoirs[k].LevelBand, p.Site.Reservoirs[k].LowBand = said, said
		}
	}
	return truth
}

// healthyYear weighs on a site on which nothing is wrong.
func healthyYear(t *testing.T, seed uint64) (w weighedSite) {
	r := rand.New(rand.NewPCG(seed, 77))
	place, err := drawSite(context.Background(), r, 1+int(seed%2))
	require.NoError(t, err)
	for len(weighable(place)) == 0 {
		place, err = drawSite(context.Background(), r, 1+int(seed%2))
		require.NoError(t, err)
	}
	floats := bands(r, place)
	for m := range months {
		s := rehearse.Plain(monthFrom(m), int(monthFrom(m+1)-monthFrom(m)), seed*100+uint64(m))
		s.Weather = []string{"mild", "normal", "hot"}[m%3]
		w.lived(place, s.Days)
		began, last := map[int64][]float64{}, math.NaN()
		report, err := rehearse.Run(context.Background(), place.Site, s, rehearse.Options{Pipes: place.pipes, NoDrift: true, Bands: floats, Each: func(at rehearse.Observation) {
			for i := range at.Turn.Events {
				switch e := &at.Turn.Events[i]; e.Kind {
				case controller.PumpStarted:
					if e.Flood.Attempt == 0 {
						var held []float64
						for k := range place.Site.Reservoirs {
							held = append(held, at.Litres(k))
						}
						began[e.Flood.ID] = held
						if b := &place.Site.Benches[e.Bench]; b.Full != nil && slices.Contains(weighable(place), b.Reservoir) {
							w.floods++
						}
					}
				case controller.ReservoirWeighed:
					w.read++
					if slices.Contains(weighable(place), e.Weighing.Reservoir) {
						w.weigh++
					}
					out := float64(e.Weighing.Litres) - began[e.Weighing.Flood][e.Weighing.Reservoir]
					w.errors = append(w.errors, out)
					if math.Abs(out) <= float64(e.Weighing.Give) {
						w.within++
					}
					if !math.IsNaN(last) {
						w.changes = append(w.changes, out-last)
					}
					last = out
				case controller.MessageSent:
					if e.Message.Cause == controller.LostCause {
						w.words++
						t.Logf("site %d: %s", seed, e.Message.Text)
					}
				}
			}
		}})
		require.NoError(t, err)
		for _, trip := range report.Trips {
			if trip.Interlock == safety.LostWater {
				w.latched++
			}
		}
	}
	return w
}

// lived counts days of the benches whose reservoirs are weighed.
func (w *weighedSite) lived(p *DrawnSite, days int) {
	for _, k := range weighable(p) {
		on := 0
		for b := range p.Site.Benches {
			if p.Site.Benches[b].Reservoir == k {
				on++
			}
		}
		w.days += on * days
		if on > 1 {
			w.shared += on * days
		}
		if p.Site.Reservoirs[k].LevelBand > 0.005 {
			w.thick += on * days
		}
	}
}

func weighable(p *DrawnSite) (tanks []int) {
	for k := range p.Site.Reservoirs {
		if p.Site.Reservoirs[k].Level != nil {
			tanks = append(tanks, k)
		}
	}
	return tanks
}

// Weighings against what the simulated reservoirs really held, which nothing
// that weighs may read.
func TestHealthySitesAreWeighedAndNobodyIsToldOfLostWater(t *testing.T) {
	t.Parallel()
	var all weighedSite
	for seed := range uint64(*weighSites) {
		all.add(healthyYear(t, *weighSeed+seed+1))
		if seed%soFar == soFar-1 {
			t.Logf("%d sites: %s", seed+1, &all) // of a long run that is ended early
		}
	}
	t.Log(&all)
	assert.Greater(t, float64(all.weigh), 0.9*float64(all.floods))
	assert.Greater(t, float64(all.within), 0.9*float64(all.read), "what people are told that it is between")
	assert.LessOrEqual(t, float64(all.words), max(1, all.decades()))
	assert.Zero(t, all.latched)
}

// soFar is after how many sites each it is told what they came to.
const soFar = 50

func (w *weighedSite) add(o weighedSite) {
	w.errors, w.changes = append(w.errors, o.errors...), append(w.changes, o.changes...)
	w.within, w.floods, w.read, w.weigh, w.days = w.within+o.within, w.floods+o.floods, w.read+o.read, w.weigh+o.weigh, w.days+o.days
	w.words, w.latched, w.shared, w.thick = w.words+o.words, w.latched+o.latched, w.shared+o.shared, w.thick+o.thick
}

const decade = 3652.0 // days

func (w *weighedSite) decades() float64 { return float64(w.days) / decade }

func (w *weighedSite) String() string {
	return fmt.Sprintf("%d of %d floods weigh; of all weighings %.1f %% lie within what they give or take; error %s; from one to the next %s; %d words (at most %.2f a bench-decade, 95 %%) and %d latches (%.3f) in %.1f bench-decades, %.1f of them on shared reservoirs, %.1f with floats over 5 mm",
		w.weigh, w.floods, 100*float64(w.within)/float64(w.read), spread(w.errors), spread(w.changes), w.words, most(w.words)/w.decades(), w.latched, most(w.latched)/w.decades(),
		w.decades(), float64(w.shared)/decade, float64(w.thick)/decade)
}

// most is what the mean of a count is below, 19 times in 20, where so many were
// counted (Poisson; the exact bound of a count by bisection).
func most(counted int) float64 {
	low, high := 0.0, 10+4*float64(counted)
	for range 60 {
		mean := (low + high) / 2
		p, term := 0.0, math.Exp(-mean)
		for n := 0; n <= counted; n++ {
			p += term
			term *= mean / float64(n+1)
		}
		if p > 0.05 {
			low = mean
		} else {
			high = mean
		}
	}
	return high
}

// spread is the median and what 19 in 20 stay below, of absolute values.
func spread(x []float64) string {
	for i := range x {
		x[i] = math.Abs(x[i])
	}
	slices.Sort(x)
	if len(x) == 0 {
		return "none"
	}
	return fmt.Sprintf("median %.2f L, 95 %% %.2f L", x[len(x)/2], x[len(x)*95/100])
}
