package demand

import (
	"errors"
	"fmt"
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

// A table in degrees Fahrenheit and miles an hour is the same days as one in metric
// units, and what is wrong in it is told by its own columns.
func TestATableInUSUnitsIsTheSameDays(t *testing.T) {
	place := Location{Latitude: 41.6}
	read := func(text string) Records {
		r, err := place.ReadRecords(strings.NewReader(text))
		require.NoError(t, err)
		return r
	}
	metric := read("date,low_c,high_c,dew_c,wind_m_s\n2026-06-01,10,25,8,4.4704\n2026-06-02,12,30,11,0\n")
	us := read("Date,Low_F,High_F,Dew_F,Wind_MPH\n2026-06-01,50,77,46.4,10\n2026-06-02,53.6,86,51.8,0\n")
	require.Empty(t, us.Notes)
	require.Len(t, us.Days, 2)
	for i, d := range us.Days {
		want := metric.Days[i]
		assert.InDelta(t, float64(want.Low), float64(d.Low), 1e-9)
		assert.InDelta(t, float64(want.High), float64(d.High), 1e-9)
		dew, _ := d.Dew.Get()
		wantDew, _ := want.Dew.Get()
		assert.InDelta(t, float64(wantDew), float64(dew), 1e-9)
		wind, ok := d.Wind.Get()
		wantWind, _ := want.Wind.Get()
		assert.True(t, ok)
		assert.InDelta(t, float64(wantWind), float64(wind), 1e-9)
	}
	wrong := read("date,low_f,high_f\n2026-06-01,warm,77\n2026-06-02,,77\n2026-06-03,50,77\n")
	require.Len(t, wrong.Notes, 2)
	assert.Contains(t, wrong.Notes[0].Text, `low_f "warm": write a plain number`)
	assert.Contains(t, wrong.Notes[1].Text, "no low_f")
	_, err := place.ReadRecords(strings.NewReader("date,low_c,low_f,high_c\n"))
	assert.ErrorContains(t, err, `column "low_f" stands there twice`)

	logOf := func(head string, air func(hour int) float64) Records {
		var b strings.Builder
		b.WriteString("time," + head + "\n")
		for h := range 24 {
			fmt.Fprintf(&b, "2026-06-01 %02d:00,%.2f\n", h, air(h))
		}
		return read(b.String())
	}
	celsius := logOf("air_c", func(h int) float64 { return 15 + float64(h)/2 }).Days[0]
	fahrenheit := logOf("air_f", func(h int) float64 { return 59 + 0.9*float64(h) }).Days[0]
	assert.InDelta(t, float64(celsius.High), float64(fahrenheit.High), 1e-6)
	assert.InDelta(t, float64(celsius.Low), float64(fahrenheit.Low), 1e-6)
}

// log is that of a sensor which shows the same for some hours of a day.
func log(stuck float64) string {
	lines := []string{"time,air_f"}
	for hour := range 48 {
		shown := 60 + float64(hour)/4
		if hour > 30 && hour < 40 {
			shown = stuck
		}
		lines = append(lines, fmt.Sprintf("2026-06-%02d %02d:00,%g", 1+hour/24, hour%24, shown))
	}
	return strings.Join(lines, "\n")
}

// What is wrong with a line is said in the units of the table.
func TestNotesSpeakTheUnitsOfTheTable(t *testing.T) {
	for text, want := range map[string]string{
		"date,low_c,high_c\n2026-06-01,12,24\n2026-06-02,13,85\n":                   "85 °C is what a thermometer shows after a reset: read it again: left out",
		"date,low_f,high_f\n2026-06-01,54,75\n2026-06-02,55,185\n":                  "185 °F is what a thermometer shows after a reset: read it again: left out",
		"date,low_f,high_f\n2026-06-01,54,75\n2026-06-02,75,54\n":                   "low of 75 °F above the high of 54 °F: exchange them: left out",
		"date,low_f,high_f\n2026-06-01,54,75\n2026-06-02,55,300\n":                  "temperature 300 °F cannot be right: it lies between -130 °F and 140 °F: left out",
		"date,low_f,high_f,dew_f\n2026-06-01,54,75,90\n":                            "dew point 90 °F cannot be right: it lies between -130 °F and 75 °F: taken for missing",
		"date,low_f,high_f,wind_mph\n2026-06-01,54,75,900\n":                        "wind 900 mph cannot be right: it lies between 0 and 167.8 mph: taken for missing",
		"date,low_c,high_c,wind_mph\n2026-06-01,24,12,9\n2026-06-02,12,24,9\n":      "low of 24 °C above the high of 12 °C: exchange them: left out",
		"date,low_f,high_f\n2026-06-01,54,75\n2026-06-02,54,75\n2026-06-03,54,75\n": "54 °F and 75 °F on 3 days in a row",
		log(185): "185 °F is what a thermometer shows after a reset: read it again: left out",
		log(75):  "75 °F for 6 h: the sensor looks frozen: left out",
		"date,low_c,high_c,wind_m_s\n2026-06-01,12,24,900\n": "wind 900 m/s cannot be right: it lies between 0 and 75 m/s: taken for missing",
	} {
		r, err := Location{Latitude: 45}.ReadRecords(strings.NewReader(text))
		said := fmt.Sprint(r.Notes, err)
		assert.Contains(t, said, want, text)
	}
}
