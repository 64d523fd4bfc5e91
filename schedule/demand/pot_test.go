package demand

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func pot(t require.TestingT, volume Litres, capacity float64) Pot {
	p, err := NewPot(volume, capacity)
	require.NoError(t, err)
	return p
}

func anyPot(t *rapid.T) Pot {
	p := pot(t, Litres(rapid.Float64Range(0.02, 5).Draw(t, "volume")), rapid.Float64Range(0.2, 0.95).Draw(t, "capacity"))
	p.Drinks = time.Duration(rapid.IntRange(30, 3000).Draw(t, "drinks")) * time.Second
	return p
}

func TestPotNeverHoldsMoreThanItsCapacityNorLessThanPlantsCanTake(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPot(t)
		water := p.Holds()
		for range 20 {
			if rapid.Bool().Draw(t, "flood") {
				water = p.Flooded(water, time.Duration(rapid.IntRange(0, 3600).Draw(t, "contact"))*time.Second)
			} else {
				water = p.Used(water, p.Gives()*Litres(rapid.Float64Range(0, 3).Draw(t, "wanted")))
			}
			require.LessOrEqual(t, float64(water), float64(p.Holds())*(1+1e-12))
			require.GreaterOrEqual(t, float64(water), float64(p.Threshold()-p.Volume*Litres(p.Hard))-1e-12)
		}
	})
}

func TestUseInTwoStepsIsUseInOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPot(t)
		a := p.Gives() * Litres(rapid.Float64Range(0, 2).Draw(t, "first"))
		b := p.Gives() * Litres(rapid.Float64Range(0, 2).Draw(t, "second"))
		assert.InDelta(t, float64(p.Used(p.Holds(), a+b)), float64(p.Used(p.Used(p.Holds(), a), b)), 1e-9)
	})
}

func TestPotsThatCannotBeAreRefused(t *testing.T) {
	for _, c := range []struct {
		volume   Litres
		capacity float64
	}{{0, 0.8}, {-1, 0.8}, {1, 0}, {1, 1.1}, {Litres(math.NaN()), 0.8}, {2000, 0.8}} {
		_, err := NewPot(c.volume, c.capacity)
		assert.ErrorContains(t, err, "between", "%v", c)
	}
}

// when is the time at which that many days' worth have been used.
func (s Shine) when(used float64) time.Duration {
	whole := math.Ceil(used) - 1
	part := math.Acos(1-2*(used-whole)) / math.Pi
	return time.Duration(whole)*day + s.Rise + time.Duration(part*float64(s.length()))
}

func TestShortestIsTheShortestFromAnyTimeOfDay(t *testing.T) {
	shine := Shine{5 * time.Hour, 20 * time.Hour}
	for _, days := range []float64{0.1, 0.5, 0.99, 1, 1.01, 1.7, 2, 3.3} {
		least := time.Duration(math.MaxInt64)
		for at := time.Duration(0); at < day; at += time.Minute {
			least = min(least, shine.when(shine.used(at)+days)-at)
		}
		assert.InDelta(t, least.Hours(), shine.shortest(days).Hours(), 0.05, "%v days", days)
	}
}

func TestNothingIsUsedInNoTime(t *testing.T) {
	assert.Zero(t, ShineFor(12).shortest(0))
	assert.Zero(t, LightFromSunshine(0, 0, 0), "polar night")
}

func TestAWiltedPotGivesNoMore(t *testing.T) {
	p := pot(t, 1, 0.8)
	wilted := p.Threshold() - Litres(p.Hard)
	assert.Equal(t, wilted, p.Used(wilted, 1))
	p.Hard = 0
	assert.Equal(t, p.Threshold(), p.Used(p.Holds(), 1))
}

func TestWhenUndoesUsed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rise := time.Duration(rapid.IntRange(0, 12*3600).Draw(t, "rise")) * time.Second
		shine := Shine{rise, rise + time.Duration(rapid.IntRange(3600, 12*3600).Draw(t, "length"))*time.Second}
		used := rapid.Float64Range(0.001, 20).Draw(t, "used")
		assert.InDelta(t, used, shine.used(shine.when(used)), 1e-9)
	})
}
