package demand

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hourly is a day of readings: 12 °C at midnight, half a degree more each hour.
func hourly(date time.Time, g *Gauge) (refused []error) {
	for h := range 24 {
		err := g.Take(Reading{At: date.Add(time.Duration(h) * time.Hour), Air: Celsius(12 + float64(h)/2), Humidity: Known(Percent(60 + float64(h%2)))})
		if err != nil {
			refused = append(refused, err)
		}
	}
	return refused
}

func TestASensorsReadingsMakeDays(t *testing.T) {
	var g Gauge
	first := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	for d := range 3 {
		require.Empty(t, hourly(first.AddDate(0, 0, d), &g))
	}
	days, short := g.Days()
	require.Len(t, days, 3)
	assert.Zero(t, short)
	assert.Equal(t, first.AddDate(0, 0, 1), days[1].Date)
	assert.Equal(t, 153, days[1].YearDay)
	assert.Equal(t, Celsius(12), days[1].Low)
	assert.Equal(t, Celsius(23.5), days[1].High)
	humidity, ok := days[1].Humidity.Get()
	assert.True(t, ok)
	assert.InDelta(t, 60.5, float64(humidity), 1e-9)
}

func TestFalseReadingsAreRefusedAndADayWithTooFewLeftIsNone(t *testing.T) {
	at := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		reading Reading
		says    string
	}{
		"after a reset":     {Reading{At: at, Air: 85}, "after a reset"},
		"a faulty line":     {Reading{At: at, Air: 127.94}, "faulty line"},
		"no air has it":     {Reading{At: at, Air: -100}, "between -90 °C and 60 °C"},
		"no humidity is it": {Reading{At: at, Air: 20, Humidity: Known(Percent(101))}, "between 0 and 100 %"},
	} {
		var g Gauge
		assert.ErrorContains(t, g.Take(c.reading), c.says, name)
		days, _ := g.Days()
		assert.Empty(t, days, name)
	}

	var g Gauge
	for h := range 24 {
		err := g.Take(Reading{At: at.Add(time.Duration(h) * time.Hour), Air: 21.25})
		if h < 6 {
			assert.NoError(t, err)
		} else {
			assert.ErrorContains(t, err, fmt.Sprintf("21.25 °C for %d h: the sensor looks frozen", h))
		}
	}
	days, short := g.Days()
	assert.Empty(t, days)
	assert.Equal(t, 1, short)
	require.Empty(t, hourly(at.AddDate(0, 0, 1), &g), "it reads again")
	days, _ = g.Days()
	assert.Len(t, days, 1)
	assert.ErrorContains(t, g.Take(Reading{At: at, Air: 20}), "comes after")
}

func TestTheLogOfASensorIsReadAsRecords(t *testing.T) {
	var b strings.Builder
	b.WriteString("time,air_c,humidity_pct\n")
	for h := range 48 {
		fmt.Fprintf(&b, "2026-06-%02d %02d:00,%d,%s\n", 1+h/24, h%24, 12+h%24/2, []string{"-", "55"}[h%2])
	}
	b.WriteString("2026-06-03 00:00,85,55\n2026-06-03 01:00,warm,55\n3 June,20,55\n2026-06-03 02:00,20,damp\n2026-06-03 03:00,20\n2026-06-03 04:00,\"20\n")
	r, err := Location{Latitude: 50}.ReadRecords(strings.NewReader(b.String()))
	require.NoError(t, err)
	require.Len(t, r.Days, 2)
	var said []string
	for _, n := range r.Notes {
		said = append(said, n.Text)
	}
	for _, want := range []string{"after a reset: read it again: left out", `air_c "warm"`, `time "3 June": write it like`, `humidity_pct "damp"`, "1 days with readings in fewer than 18", "quoted-field"} {
		assert.Contains(t, strings.Join(said, "\n"), want)
	}
	_, err = Location{}.ReadRecords(strings.NewReader("time,humidity_pct\n"))
	assert.ErrorContains(t, err, `column "air_c" is missing`)
	_, err = Location{}.ReadRecords(strings.NewReader("time,air_c\n2026-06-01 00:00,85\n"))
	assert.ErrorContains(t, err, "no line has a day")
}
