package demand

import (
	"errors"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRecordsKeepWhatCanBeAndSayWhatNot(t *testing.T) {
	const text = "# a school greenhouse\n" +
		"\ufeffDate, low_c,high_c,humidity_pct,mood,light_mj_per_m2\n" +
		"2026-06-03,14,26,60,good,21\n" +
		"2026-06-01,12,24,,good,\n" +
		"2026-06-02,13,85,55,good,20\n" +
		"2026-06-04,14.5,-,55,good,20\n" +
		"2026-06-05,13,25,155,good,20\n" +
		"2026-06-06,thirteen,25,55,good,20\n" +
		"6 June,13,25,55,good,20\n" +
		"2026-06-03,15,27,55,good,20\n" +
		"2026-06-07,13,25\n" +
		"2026-06-08,13,\"25\n"
	r, err := Location{Latitude: 50}.ReadRecords(strings.NewReader(text))
	require.NoError(t, err)

	var dates []string
	for _, d := range r.Days {
		dates = append(dates, d.Date.Format(time.DateOnly))
	}
	assert.Equal(t, []string{"2026-06-01", "2026-06-03", "2026-06-05", "2026-06-07"}, dates)
	assert.Equal(t, 154, r.Days[1].YearDay)
	humidity, ok := r.Days[1].Humidity.Get()
	assert.True(t, ok)
	assert.Equal(t, Percent(60), humidity)
	for _, missing := range []int{0, 2} {
		_, ok = r.Days[missing].Humidity.Get()
		assert.False(t, ok)
	}

	var notes []string
	for _, n := range r.Notes {
		notes = append(notes, n.Text)
	}
	said := strings.Join(notes, "\n")
	for _, want := range []string{`column "mood" is not known`, "after a reset: read it again: left out", "no high_c: left out", "humidity 155 % cannot be right: it lies between 0 and 100 %: taken for missing",
		`low_c "thirteen": write a plain number`, `date "6 June": write it like`, "2026-06-03 stands on line 3 too",
		"dates missing after 2026-06-01: 1", "dates missing after 2026-06-03: 1", `quoted-field`} {
		assert.Contains(t, said, want)
	}
	assert.Equal(t, 2, r.Notes[0].Line)
}

func TestAFrozenThermometerIsNotBelieved(t *testing.T) {
	const text = `date,low_c,high_c
2026-06-01,12,24
2026-06-02,13,25
2026-06-03,13,25
2026-06-04,14,26
2026-06-05,14,26
2026-06-06,14,26
2026-06-07,15,27
`
	r, err := Location{}.ReadRecords(strings.NewReader(text))
	require.NoError(t, err)
	require.Len(t, r.Days, 5, "two days alike can be, three cannot")
	require.Len(t, r.Notes, 2)
	assert.Equal(t, 6, r.Notes[0].Line)
	assert.Contains(t, r.Notes[0].Text, "looks frozen")

	assert.Equal(t, 1, Frozen([]Celsius{20.1, 20.2, 20.2, 20.2}, 3))
	assert.Equal(t, 4, Frozen([]Celsius{20.1, 20.2, 20.2, 20.2}, 4))
	assert.Equal(t, 0, Frozen([]Celsius{}, 1))
}

func TestTablesThatAreNoRecordsAreAnError(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"nothing":         {"", "the header"},
		"no high":         {"date,low_c\n", `column "high_c" is missing`},
		"twice":           {"date,low_c,low_c,high_c\n", "stands there twice"},
		"no line":         {"date,low_c,high_c\n", "none below the header"},
		"no line is good": {"date,low_c,high_c\n2026-01-01,99,100\n", "line 2: temperature 99"},
	} {
		_, err := Location{}.ReadRecords(strings.NewReader(c.text))
		assert.ErrorContains(t, err, c.says, name)
	}
	_, err := Location{}.ReadRecords(iotest.ErrReader(errors.New("lost")))
	assert.ErrorContains(t, err, "lost")
}

func TestClimateOfRecordsRanksDaysByTheirUse(t *testing.T) {
	var r Records
	for i := range 101 {
		r.Days = append(r.Days, Record{Day: Day{YearDay: 180, Low: Celsius(5 + float64(i)/10), High: Celsius(15 + float64(i)/5)}})
	}
	p := Location{Latitude: 50}
	c, err := r.Climate(p)
	require.NoError(t, err)
	assert.InDelta(t, et(t, p, r.Days[10].Day), float64(c.Mild.Reference), 1e-12)
	assert.InDelta(t, et(t, p, r.Days[50].Day), float64(c.Normal.Reference), 1e-12)
	assert.InDelta(t, et(t, p, r.Days[100].Day), float64(c.Hottest.Reference), 1e-12)
}
