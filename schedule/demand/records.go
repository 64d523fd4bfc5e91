package demand

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Record is one day on record.
type Record struct {
	Date time.Time // midnight UTC stands for the civil date
	Day
}

// Note says what was wrong with a line of records and what came of it.
type Note struct {
	Line int // counted from 1; the header is usually the first
	Text string
}

// Records are days read from a table, in order of date, with all that was
// missing or not believed.
type Records struct {
	Days  []Record
	Notes []Note
}

// columns are what a table may hold, by the name at its head.
var columns = map[string]func(*Day, float64){
	"low_c":           func(d *Day, x float64) { d.Low = Celsius(x) },
	"high_c":          func(d *Day, x float64) { d.High = Celsius(x) },
	"humidity_pct":    func(d *Day, x float64) { d.Humidity = Known(Percent(x)) },
	"driest_pct":      func(d *Day, x float64) { d.Driest = Known(Percent(x)) },
	"dampest_pct":     func(d *Day, x float64) { d.Dampest = Known(Percent(x)) },
	"dew_c":           func(d *Day, x float64) { d.Dew = Known(Celsius(x)) },
	"wind_m_s":        func(d *Day, x float64) { d.Wind = Known(MetresPerSecond(x)) },
	"sunshine_h":      func(d *Day, x float64) { d.Sunshine = Known(Hours(x)) },
	"light_mj_per_m2": func(d *Day, x float64) { d.Light = Known(Megajoules(x)) },
}

// needed are the columns without which there is no day.
var needed = []string{"date", "low_c", "high_c"}

// column is one of a table: the name at its head, that of the metric column which it
// stands for, and its readings in the units of that.
type column struct {
	head, name string
	metric     func(float64) float64
}

// customary are columns in US units (NIST Special Publication 811, appendix B).
var customary = map[string]column{
	"low_f": {"low_f", "low_c", fromFahrenheit}, "high_f": {"high_f", "high_c", fromFahrenheit}, "dew_f": {"dew_f", "dew_c", fromFahrenheit},
	mphColumn: {mphColumn, "wind_m_s", func(x float64) float64 { return x * mph }}, "air_f": {"air_f", airColumn, fromFahrenheit},
}

const (
	mphColumn = "wind_mph"
	mph       = 0.44704 // m/s
)

func fromFahrenheit(x float64) float64 { return (x - 32) / 1.8 }

// columnOf is the column with this name at its head.
func columnOf(head string) column {
	if c, us := customary[head]; us {
		return c
	}
	return column{head, head, func(x float64) float64 { return x }}
}

// number reads what stands in a column.
func (c column) number(text string) (float64, error) {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0, fmt.Errorf("%s %q: write a plain number like 12.5", c.head, text)
	}
	return c.metric(x), nil
}

// repeats is how many days in a row with the same low and high make a
// thermometer look frozen (common practice, no source).
const repeats = 3

// ReadRecords reads a table of days with commas between and a header of the
// columns date (2026-03-02), low_c, high_c and, where known, humidity_pct,
// driest_pct, dampest_pct, dew_c, wind_m_s at 2 m, sunshine_h and
// light_mj_per_m2, or low_f, high_f, dew_f and wind_mph in their place; lines that begin with # are skipped. An empty field, - or NA
// is a missing reading, and one that cannot be at p is taken for missing. A day
// without low or high is left out, also where they cannot be, and so are all
// but the first day of a frozen thermometer. Notes say so and name dates that
// are missing. A table with the columns time (2026-03-02 09:00), air_c or
// air_f and, where known, humidity_pct is the log of a sensor, of which Gauge makes days.
// Only a table without the needed columns, or without a day, is an error.
func (p Location) ReadRecords(r io.Reader) (Records, error) {
	table := csv.NewReader(r)
	table.Comment, table.TrimLeadingSpace, table.FieldsPerRecord = '#', true, -1
	head, err := table.Read()
	if err != nil {
		return Records{}, fmt.Errorf("read records: the header: %w", err)
	}
	for i, name := range head {
		head[i] = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))
	}
	t := reading{location: p, table: table}
	if err := t.read(head); err != nil {
		return Records{}, fmt.Errorf("read records: %w", err)
	}
	t.inOrder()
	t.thaw()
	t.gaps()
	slices.SortStableFunc(t.Notes, func(a, b Note) int { return a.Line - b.Line })
	if len(t.Days) == 0 {
		return Records{}, fmt.Errorf("read records: no line has a day that can be used: %s", t.why())
	}
	return t.Records, nil
}

// reading is a table being read.
type reading struct {
	Records
	location Location
	table    *csv.Reader
	columns  []column
	scale    scale
	line     map[time.Time]int // by date
}

// read reads the lines below a header: of days, or of a sensor's log.
func (t *reading) read(head []string) (err error) {
	t.scale = scaleOf(head...)
	if slices.Contains(head, timeColumn) {
		t.Records, err = readLog(t.table, head)
		return err
	}
	if err := t.header(head); err != nil {
		return err
	}
	return t.lines()
}

func (t *reading) note(line int, format string, args ...any) {
	t.Notes = append(t.Notes, Note{line, fmt.Sprintf(format, args...)})
}

func (t *reading) why() string {
	if len(t.Notes) == 0 {
		return "there are none below the header"
	}
	return fmt.Sprintf("line %d: %s", t.Notes[0].Line, t.Notes[0].Text)
}

func (t *reading) header(head []string) error {
	line, _ := t.table.FieldPos(0)
	has := func(name string) bool {
		return slices.ContainsFunc(t.columns, func(c column) bool { return c.name == name })
	}
	for _, name := range head {
		c := columnOf(name)
		switch {
		case c.name != "date" && columns[c.name] == nil:
			t.note(line, "column %q is not known and not used", name)
		case has(c.name):
			return fmt.Errorf("line %d: column %q stands there twice", line, name)
		}
		t.columns = append(t.columns, c)
	}
	for _, name := range needed {
		if !has(name) {
			return fmt.Errorf("line %d: column %q is missing: the header needs %s, or low_f and high_f in place of these", line, name, strings.Join(needed, ", "))
		}
	}
	return nil
}

func (t *reading) lines() error {
	t.line = map[time.Time]int{}
	return eachLine(t.table, func(line int, fields []string, err error) {
		if err != nil {
			t.note(line, "%v: left out", err)
			return
		}
		t.take(line, fields)
	})
}

// eachLine gives take the fields of each line of a table, or what is wrong with
// the line.
func eachLine(table *csv.Reader, take func(line int, fields []string, err error)) error {
	for {
		fields, err := table.Read()
		if broken, ok := errors.AsType[*csv.ParseError](err); ok {
			take(broken.Line, nil, broken.Err)
			continue
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		line, _ := table.FieldPos(0)
		take(line, fields, nil)
	}
}

// take reads one line and keeps its day if it can be.
func (t *reading) take(line int, fields []string) {
	rec, err := t.record(fields)
	for _, wrong := range rec.sift(t.location) {
		if wrong != nil && err == nil {
			t.note(line, "%s: taken for missing", t.scale.say(wrong))
		}
	}
	if err == nil {
		err = rec.check(t.location)
	}
	if err == nil && t.line[rec.Date] > 0 {
		err = fmt.Errorf("%s stands on line %d too", rec.Date.Format(time.DateOnly), t.line[rec.Date])
	}
	if err != nil {
		t.note(line, "%s: left out", t.scale.say(err))
		return
	}
	t.line[rec.Date] = line
	t.Days = append(t.Days, rec)
}

func (t *reading) record(fields []string) (Record, error) {
	var rec Record
	for i, c := range t.columns {
		text := ""
		if i < len(fields) {
			text = strings.TrimSpace(fields[i])
		}
		switch {
		case missing(text) && slices.Contains(needed, c.name):
			return rec, fmt.Errorf("no %s", c.head)
		case missing(text):
		case c.name == "date":
			date, err := time.Parse(time.DateOnly, text)
			if err != nil {
				return rec, fmt.Errorf("date %q: write it like 2026-03-02", text)
			}
			rec.Date, rec.YearDay = date, date.YearDay()
		case columns[c.name] != nil:
			x, err := c.number(text)
			if err != nil {
				return rec, err
			}
			columns[c.name](&rec.Day, x)
		}
	}
	return rec, nil
}

func (t *reading) inOrder() {
	slices.SortFunc(t.Days, func(a, b Record) int { return a.Date.Compare(b.Date) })
}

// thaw leaves out the days of a thermometer that stands still.
func (t *reading) thaw() {
	var kept []Record
	for from := 0; from < len(t.Days); {
		to := from + 1
		for to < len(t.Days) && t.Days[to].Low == t.Days[from].Low && t.Days[to].High == t.Days[from].High {
			to++
		}
		if to-from < repeats {
			kept = append(kept, t.Days[from:to]...)
		} else {
			kept = append(kept, t.Days[from])
			t.note(t.line[t.Days[from+1].Date], "%s and %s on %d days in a row: the thermometer looks frozen, days after the first left out",
				t.scale.degrees(float64(t.Days[from].Low)), t.scale.degrees(float64(t.Days[from].High)), to-from)
		}
		from = to
	}
	t.Days = kept
}

func (t *reading) gaps() {
	for i := 1; i < len(t.Days); i++ {
		before, rec := t.Days[i-1], t.Days[i]
		if n := int(rec.Date.Sub(before.Date)/day) - 1; n > 0 {
			t.note(max(1, t.line[rec.Date]), "dates missing after %[2]s: %[1]d", n, before.Date.Format(time.DateOnly))
		}
	}
}
