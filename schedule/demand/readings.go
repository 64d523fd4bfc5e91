package demand

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"time"
)

// The columns of a sensor's log.
const (
	timeColumn = "time"
	airColumn  = "air_c"
	dampColumn = "humidity_pct"
)

// clocks are the ways in which a log may write its times.
var clocks = []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04"}

// readLog reads the log of a sensor of temperature and humidity: a line a
// reading, with the columns time (2026-03-02 09:00 by the clock on the wall),
// air_c or air_f and, where it has one, humidity_pct.
func readLog(table *csv.Reader, head []string) (Records, error) {
	at, damp := slices.Index(head, timeColumn), slices.Index(head, dampColumn)
	air := slices.IndexFunc(head, func(name string) bool { return columnOf(name).name == airColumn })
	if air < 0 {
		return Records{}, fmt.Errorf("column %q is missing: the header of a sensor's log needs %s and %s, or air_f", airColumn, timeColumn, airColumn)
	}
	var r Records
	var g Gauge
	err := eachLine(table, func(line int, fields []string, err error) {
		var reading Reading
		if err == nil {
			reading, err = readingOf(fields, head, at, air, damp)
		}
		if err == nil {
			err = g.Take(reading)
		}
		if err != nil {
			r.Notes = append(r.Notes, Note{line, scaleOf(head[air]).say(err) + ": left out"})
		}
	})
	if err != nil {
		return r, err
	}
	var short int
	if r.Days, short = g.Days(); short > 0 {
		r.Notes = append(r.Notes, Note{1, fmt.Sprintf("%d days with readings in fewer than %d of their hours: left out", short, enoughHours)})
	}
	return r, nil
}

func readingOf(fields, head []string, at, air, damp int) (r Reading, err error) {
	field := func(i int) string {
		if i < 0 || i >= len(fields) {
			return ""
		}
		return strings.TrimSpace(fields[i])
	}
	if r.At, err = clockTime(field(at)); err != nil {
		return r, err
	}
	t, err := columnOf(head[air]).number(field(air))
	if err != nil {
		return r, err
	}
	r.Air = Celsius(t)
	if missing(field(damp)) {
		return r, nil
	}
	h, err := columnOf(dampColumn).number(field(damp))
	r.Humidity = Known(Percent(h))
	return r, err
}

func clockTime(text string) (time.Time, error) {
	for _, layout := range clocks {
		if t, err := time.Parse(layout, text); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%s %q: write it like 2026-03-02 09:00", timeColumn, text)
}

// missing reports whether a field says that there was no reading.
func missing(text string) bool { return text == "" || text == "-" || strings.EqualFold(text, "NA") }
