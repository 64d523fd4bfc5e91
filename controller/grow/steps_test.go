package grow

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

func TestTheWayFromSeedToHandOverIsThatOfPublishedSources(t *testing.T) {
	published(t, "plants-steps.csv", func(quantity, of string) float64 {
		switch quantity {
		case "out_by_day":
			return float64(outByDay)
		case "out_overnight":
			return float64(outOvernight)
		}
		crop, at, _ := strings.Cut(of, " t=")
		require.Contains(t, ways, crop)
		w := ways[crop]
		if quantity == "emerges" {
			x, err := strconv.ParseFloat(at, 64)
			require.NoError(t, err)
			return w.emerges(demand.Celsius(x))
		}
		return map[string]float64{"least_weeks": float64(w.weeks[0]), "most_weeks": float64(w.weeks[1]), "seed_least": float64(w.least), "seed_most": float64(w.most)}[quantity]
	})
}

// sown is a site at 17 °C on average until April, 18 °C in May, where a crop was sown
// on 2 March in the pots it stands in.
func sown(t *testing.T, crop string) *Site {
	s := seasons(t, crop)
	s.Batches[0].Sown = s.Batches[0].Transplanted
	return s
}

func TestStepsComeInOrderWithTheirDates(t *testing.T) {
	for crop, want := range map[string][]string{
		// Tomato: 103 °C·days above 7.5 °C; (6+18+18+28)/4 = 17.5 °C makes 10.3 days.
		"tomato":  {"up, about 2026-03-13", "thin, about 2026-03-20", "harden off, about 2026-03-23 to 2026-04-06", "fit to go, about 2026-04-06 to 2026-04-13"},
		"lettuce": {"up, about 2026-03-06", "thin, about 2026-03-13", "harden off, about 2026-03-23 to 2026-03-30", "fit to go, about 2026-03-30 to 2026-04-13"},
		"leafy":   nil,
	} {
		all := sown(t, crop).Steps(0)
		require.Len(t, all, len(want), crop)
		for i := range want {
			assert.Contains(t, all[i].String(), want[i]+": ", crop)
		}
	}
}

func TestWhatNobodyCanKnowIsNoStep(t *testing.T) {
	s := sown(t, "tomato")
	s.Batches[0].Sown = s.Batches[0].Transplanted.AddDays(-21)
	all := s.Steps(0)
	require.Len(t, all, 2, "it came up elsewhere")
	assert.Equal(t, Harden, all[0].Kind)
	s.Batches[0].Sown = schedule.Date(0)
	assert.Empty(t, s.Steps(0), "nobody has said when it was sown")
}

func TestSeedThatIsTooColdIsSaidToBe(t *testing.T) {
	s := sown(t, "sweet_pepper")
	line := s.Line(1)
	line.Lows, line.Highs = demand.Span[demand.Celsius]{Least: 4, Most: 8}, demand.Span[demand.Celsius]{Least: 10, Most: 14}
	s.Line = func(time.Month) demand.Line { return line }
	assert.Contains(t, s.Steps(0)[0].String(), "it is too cold for that where it stands: keep the seed at 18 °C to 24 °C")
	assert.Contains(t, s.Steps(0)[1].String(), "over night from 10 °C")
	s.Batches[0].Grows = "basil"
	all := s.Steps(0)
	assert.Contains(t, all[len(all)-2].String(), "over night from 12 °C", "cold hurts basil below that")
}
