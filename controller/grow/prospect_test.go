package grow

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// What falls short on average is what a thousand values that lie evenly between the
// ends fall short.
func TestWhatFallsShortOnAverageIsTheMeanOfManyDays(t *testing.T) {
	for _, c := range [][3]float64{{4, 10, 12}, {4, 10, 7}, {4, 10, 3}, {4, 10, 10}, {5, 5, 6}, {5, 5, 5}} {
		var sum float64
		const n = 10000
		for i := range n {
			sum += max(0, c[2]-c[0]-(c[1]-c[0])*(float64(i)+0.5)/n) / n
		}
		assert.InDelta(t, sum, short(c[0], c[1], c[2]), 1e-6, c)
	}
}

// Each cause is in the prospect of a plan that has it, and of none else.
func TestAProspectNamesWhatHoldsABatchBack(t *testing.T) {
	strength := 0.35
	prospect := func(crop string, change func(*Site)) Prospect {
		st := stage(t, 0, "09:00")
		st.Strength = strength
		s := under(t, schedule.Plan{Name: "young", Stages: []schedule.Stage{st}}, schedule.Batch{Name: "a", Transplanted: date(t, "2026-05-02")})
		s.Batches[0].Grows = crop
		change(s)
		p, err := s.Prospect(0, date(t, "2026-05-02"), 14)
		require.NoError(t, err)
		return p
	}
	plain := prospect("lettuce", func(*Site) {})
	assert.Zero(t, plain[ByStrength])
	assert.Zero(t, plain[ByCold])
	assert.Positive(t, prospect("basil", func(*Site) {})[ByCold])
	assert.Greater(t, prospect("lettuce", func(s *Site) { s.Place.Cover = 0.1 })[ByDark], plain[ByDark]+3)
	thirsty := prospect("lettuce", func(s *Site) {
		s.Batches[0].Demand.Crop = demand.Canopy{Full: 1.2, Height: 0.3, Start: 1, Days: 1}
		s.Batches[0].Demand.Space = 0.06
	})
	assert.Greater(t, thirsty[ByDrought], plain[ByDrought]+1)
	assert.Less(t, thirsty[ByWater], plain[ByWater])
	strength = 1
	assert.Greater(t, prospect("lettuce", func(*Site) {})[ByStrength], 1.0)
	strength = 0
	assert.Greater(t, prospect("lettuce", func(*Site) {})[ByStrength], 1.0)
	assert.InDelta(t, plain[ByDrought]+plain[ByWater]+plain[ByDark], plain.Days(), 1e-9)
}
