package grow

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// published calls check with the rows of a table of published values.
func published(t *testing.T, name string, check func(quantity, crop string) float64) {
	file, err := os.Open("../../testdata/published/" + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 4)
	for _, row := range rows[1:] {
		want, err := strconv.ParseFloat(row[2], 64)
		require.NoError(t, err)
		tolerance, err := strconv.ParseFloat(row[3], 64)
		require.NoError(t, err)
		crop := strings.TrimPrefix(row[1], "crop=")
		assert.InDelta(t, want, check(row[0], crop), tolerance, "%s of %s: %s", row[0], crop, row[4])
	}
}

func TestWarmthIsThatOfPublishedSources(t *testing.T) {
	published(t, "plants-warmth.csv", func(quantity, crop string) float64 {
		require.Contains(t, warmths, crop)
		w := WarmthOf(crop)
		return float64(map[string]demand.Celsius{"cold": w.Cold, "night": w.Night}[quantity])
	})
}

func TestTheLightOfABatchIsThatOfPublishedSourcesWhileItStands(t *testing.T) {
	published(t, "plants-light.csv", func(_, crop string) float64 {
		s := seasons(t, crop)
		s.Batches[0].Closed = date(t, "2026-04-02")
		assert.EqualValues(t, EnoughLight, s.Light(date(t, "2026-03-01")).Least, "before it came")
		assert.EqualValues(t, EnoughLight, s.Light(date(t, "2026-04-03")).Least, "when it has left")
		return s.Light(date(t, "2026-03-02")).Least
	})
}

// seasons is a site with a batch of a crop, whose nights are at 6 °C until the end of
// April and at 14 °C from May on, and whose days reach 36 °C in June.
func seasons(t *testing.T, crop string) *Site {
	s := under(t, schedule.Plan{Name: "young", Stages: []schedule.Stage{stage(t, 0, "09:00")}}, schedule.Batch{Name: "a", Transplanted: date(t, "2026-03-02")})
	s.Batches[0].Grows = crop
	line := s.Line(time.March)
	s.Line = func(m time.Month) demand.Line {
		l := line
		l.Lows.Least, l.Highs.Most = 6, 28
		if m >= time.May {
			l.Lows.Least = 14
		}
		if m == time.June {
			l.Highs.Most = 36
		}
		return l
	}
	return s
}

func TestNightsAndDaysThatHurtACropAreToldWithTheirDates(t *testing.T) {
	for crop, want := range map[string][]string{
		"basil": {"from 2026-03-02 to 2026-04-30 nights go down to 6 °C, and cold below about 12 °C hurts basil",
			"from 2026-06-01 to 2026-06-30 days go up to 36 °C, and heat above about 35 °C hurts basil"},
		"sweet_pepper": {"cold below about 10 °C hurts sweet pepper: heat (it grows on from about 16 °C at night)", "heat above about 35 °C hurts sweet pepper"},
		"lettuce":      {"heat above about 30 °C hurts lettuce"},
		"leafy":        {"heat above about 35 °C hurts these plants"},
	} {
		s := seasons(t, crop)
		told := s.Comfort(0, date(t, "2026-01-01"), date(t, "2026-08-31"))
		require.Len(t, told, len(want), crop)
		for i := range want {
			assert.Contains(t, told[i], want[i], crop)
		}
		assert.Empty(t, s.Comfort(0, date(t, "2026-05-01"), date(t, "2026-05-31")), crop)

		s.Batches[0].Closed = date(t, "2026-04-02")
		assert.Len(t, s.Comfort(0, date(t, "2026-01-01"), date(t, "2026-08-31")), len(want)-1, "%s leaves before it is hot", crop)
	}
}

// Of a climate that nobody has written down cold is told as taken, and heat is not.
func TestWhatIsAssumedOfTheClimateIsSaidToBe(t *testing.T) {
	s := seasons(t, "basil")
	s.AssumedLine = true
	told := s.Comfort(0, date(t, "2026-03-02"), date(t, "2026-08-31"))
	require.Len(t, told, 1)
	assert.Contains(t, told[0], "as taken without site.climate")
}

func TestTheYoungestAreShadedOnBrightDays(t *testing.T) {
	s := sown(t, "tomato")
	on := func(day int) string { return s.Shade(0, s.Batches[0].Sown.AddDays(day)) }
	assert.Contains(t, on(6), "and plants 6 days from seed bear about 10: shade them at noon")
	assert.Contains(t, on(7), "bear about 15")
	assert.Empty(t, on(35), "grown enough")
	s.Place.Cover = 0.2
	assert.Empty(t, on(6), "dark enough under its cover")
	s.Batches[0].Sown = 0
	s.Place.Cover = 0.7
	assert.Empty(t, on(6), "nobody knows how old it is")
}
