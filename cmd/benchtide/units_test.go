package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/hw/sim"
)

var (
	// metricWords and usWords are quantities in the units of the other measure.
	metricWords = regexp.MustCompile(`\d ?(mm|cm|m|km|L|mL|L/h|L/min|°C|C|kg|kg/m²|m²|g)\b|\d ?(°C|m²|kg/m²)|\b[Ll]itres?\b|\bmillimetres?\b`)
	usWords     = regexp.MustCompile(`\d ?(in|ft|gal|gal/h|gph|fl oz|qt|pt|lb|lb/ft²|F|psi)\b|\d ?(°F|ft²|lb/ft²)|\b[Gg]allons?\b`)

	// figures are numbers with a unit after them.
	figures  = regexp.MustCompile(`\b(\d*\.?\d+) ?(mm|m|L|mL|L/h|°C|kg/m²|m²|in|ft|gal|gal/h|gph|fl oz|lb/ft²|°F|ft²|mS/cm|mg/L)(\b|$)`)
	nonsense = regexp.MustCompile(`NaN|Inf|%!|\b0\.0+ (L|gal|mm|in)\b|e[+-]\d\d|fl oz to [\d.]+ gal a day|fl oz a day, [\d.]+ gal`)
)

// oddFigures are those with a point that have more than three figures, or four where
// a measure of strength has them.
func oddFigures(text string) (found []string) {
	for _, m := range figures.FindAllStringSubmatch(text, -1) {
		most := 3
		if m[2] == "mS/cm" {
			most = 4
		}
		figure := strings.TrimLeft(m[1], "0.")
		if strings.Contains(m[1], ".") && len(strings.ReplaceAll(figure, ".", "")) > most {
			found = append(found, m[0])
		}
	}
	return append(found, nonsense.FindAllString(text, -1)...)
}

func TestOddFiguresAreFound(t *testing.T) {
	assert.Equal(t, []string{"40.65 mm", "21.111111111111114 °C", "1.5748 in"}, oddFigures("40.65 mm, 21.111111111111114 °C and 1.5748 in"))
	assert.Equal(t, []string{"0.00 gal", "1e+05"[1:]}, oddFigures("0.00 gal of 1e+05 L"))
	assert.Equal(t, []string{"fl oz to 0.64 gal a day", "fl oz a day, 0.53 gal"}, oddFigures("26 fl oz to 0.64 gal a day, 41 fl oz a day, 0.53 gal on hot ones"))
	assert.Empty(t, oddFigures("41 mm, 0.85 L, 1.6 in, 1 1/16 in, 0.047 in, 1.585 mS/cm and 100000 L"))
}

// readings are the texts of a site, each under what it was made by.
type readings struct {
	t     *testing.T
	dir   string
	texts map[string]string
}

// asks runs a command on the site and keeps what it prints.
func (r readings) asks(line string, args ...string) string {
	var out, notices bytes.Buffer
	line, of, _ := strings.Cut(line, " # ")
	run(r.t.Context(), append(strings.Fields(strings.ReplaceAll(line, "DIR", r.dir)), args...), strings.NewReader(""), &out, &notices)
	text := out.String() + notices.String()
	assert.NotEmpty(r.t, text, line)
	r.texts[strings.Join(append([]string{line, of}, args...), " ")] = text
	return text
}

// keeps reads what commands wrote into files.
func (r readings) keeps() {
	written, err := filepath.Glob(r.dir + "/*/*")
	require.NoError(r.t, err)
	for _, path := range append(written, r.dir+"/paper.html") {
		if ext := filepath.Ext(path); ext == ".html" || ext == ".svg" || ext == ".txt" {
			text, err := os.ReadFile(path)
			require.NoError(r.t, err)
			r.texts[strings.TrimPrefix(path, r.dir)] = string(text)
		}
	}
}

func (r readings) writes(name, text string) {
	require.NoError(r.t, os.WriteFile(filepath.Join(r.dir, name), []byte(text), 0o600))
}

var leakSwitch = regexp.MustCompile(`(?m)^ *leak_switch: .*\n`)

// faulty are two weeks with one fault, from the first plants on.
func faulty(name string) string {
	where := map[string]string{"bench": "west", "reservoir": "tank", "output": "flood_pump", "switch": "west.high", "output, but for enable relays": "flood_pump",
		"switch or bench (its FULL)": "west", "output, bench (its pump) or empty (every pump)": "west", "nothing": ""}
	place, last, size := "", "9 h", "60 %"
	for _, d := range sim.Described() {
		if d.Name == name && where[d.Where] != "" {
			place = " where: " + where[d.Where] + ","
		}
	}
	switch name {
	case "process-hang", "brownout-loop":
		last = "2 min"
	case "heat", "cold", "reservoir-leak", "full-stuck-high", "low-stuck":
		last, size = "100 h", "100 %"
	}
	return fmt.Sprintf(`from: 2026-03-02
days: 6
seed: 7
weather: hot
faults:
  - {what: %s,%s at: "2026-03-04 07:01", for: %s, size: %s}
acts:
  - {do: top-up, where: tank, at: "2026-03-05 06:00"}
  - {do: reset, where: west, at: "2026-03-06 18:00", found: leaf in the standpipe}
`, name, place, last, size)
}

// lines are commands about the file of a site.
var lines = []string{
	"check -c DIR/bench.yaml", "check --html -c DIR/bench.yaml",
	"calendar -c DIR/bench.yaml --from 2026-03-02 --days 14", "calendar -c DIR/bench.yaml --from 2026-03-02 --days 14 --plan --svg DIR/drawn/plan.svg",
	"away -c DIR/bench.yaml --from 2026-03-10 --until 2026-03-17 --paper DIR/paper.html",
	"rehearse -c DIR/bench.yaml --from 2026-03-02 --days 30 --report DIR/report",
	"mix raise -c DIR/bench.yaml --litres 180 --from 0.4 --to 1.2 --stock 120", "mix raise -c DIR/bench.yaml --litres 1 --from 0.4 --to 1.2 --stock 120",
	"mix dilute -c DIR/bench.yaml --litres 180 --from 2.4 --to 1.6 --water 0.3", "mix replace -c DIR/bench.yaml --litres 180 --from 2.4 --to 1.6 --water 0.3",
	"mix top-up -c DIR/bench.yaml --full 95 --left 57 --ec 1.9 --to 1.6 --water 0.3", "mix loss -c DIR/bench.yaml --litres 180 --lost 7.3 --ec 1.6",
	"mix loss -c DIR/bench.yaml --litres 180 --lost 200 --ec 1.6", "mix top-up -c DIR/bench.yaml --full 95 --left 97 --ec 1.9 --to 1.6 --water 0.3",
	"mix raise -c DIR/bench.yaml --litres 0 --from 0.4 --to 1.2 --stock 120", "mix oxygen -c DIR/bench.yaml --temperature 23.9 --altitude 80",
	"mix oxygen -c DIR/bench.yaml --temperature 33", "mix oxygen -c DIR/bench.yaml --temperature 75", "mix oxygen -c DIR/bench.yaml --temperature 20 --altitude 9000",
	"mix compensate -c DIR/bench.yaml --ec 1.45 --temperature 18.9", "explain -c DIR/bench.yaml faults",
}

// slips are files with one figure that cannot be, or is not as a rule, and with none
// where one is needed.
func slips(file, measure string) (all []string) {
	units := map[string][]string{"metric": {"1 mm", "900 m", "2 L", "90000 L", "1 L/h", "-40 to 70 C"}, "us": {"1/16 in", "2000 ft", "1 gal", "30000 gal", "1 gph", "-40 to 150 F"}}
	values := append(units[measure], "7", "", "[x]")
	for i, m := range regexp.MustCompile(`(?m)[a-z_]+: ([^,{}\n\[\]"]+)`).FindAllStringSubmatchIndex(file, -1) {
		for _, v := range []string{values[i%6], values[(i+2)%6], values[6+i%3]} {
			all = append(all, file[:m[2]]+v+file[m[3]:])
		}
	}
	return all
}

// metricFile is the file of a site of US units in metric ones, to the figure that
// people would write.
func metricFile(us string) string {
	for from, to := range map[string]string{"units: us": "units: metric", "50 to 66 F": "10 to 19 C", "64 to 93 F": "18 to 34 C", "25 gal": "95 L", "3 gal": "12 L", "18 gal": "68 L", "22 gal": "83 L",
		"1/8 in": "3 mm", "4 ft": "1.2 m", "2 ft, ": "0.6 m, ", "rim: 3 in": "rim: 75 mm", "1 1/4 in": "32 mm", "bore: 2 in": "bore: 50 mm", "1/2 in, length: 6 ft": "13 mm, length: 1.8 m",
		"2 ft 6 in": "0.75 m", "7 ft": "2.1 m", "250 gph": "950 L/h", "1 1/16 in": "27 mm", "2 1/8 in": "54 mm", "3 1/2 in": "9 cm", "12 fl oz": "0.35 L", "4 in": "10 cm", "1 pt": "0.47 L"} {
		us = strings.ReplaceAll(us, ": "+from, ": "+to)
		us = strings.ReplaceAll(us, "units: us", "units: metric")
	}
	return us
}

// weatherFile is a table of days in which some readings cannot be.
func weatherFile(measure string) string {
	head, days := "date,low_c,high_c,dew_c,wind_m_s", []string{"2,19,1,1", "3,85,1,1", "4,21,40,1", "21,4,1,1", "5,200,1,1", "6,22,2,900", "7,23,2,1", "7,23,2,1", "7,23,2,1"}
	if measure == "us" {
		head, days = "date,low_f,high_f,dew_f,wind_mph", []string{"35,66,33,2", "37,185,33,2", "39,70,104,2", "70,39,33,2", "41,400,33,2", "42,72,35,900", "44,73,35,2", "44,73,35,2", "44,73,35,2"}
	}
	for i, d := range days {
		head += fmt.Sprintf("\n2026-03-%02d,%s", i+1, d)
	}
	return head + "\n"
}

// Whatever a site can print is in the units of the site, and no figure is finer than
// people can use: sheet, calendar, paper, rehearsals with every fault and their
// messages, solution, errors, and what a running daemon tells.
func TestASiteIsReadInItsOwnUnits(t *testing.T) {
	us, err := os.ReadFile("../../testdata/configs/us-full.yaml")
	require.NoError(t, err)
	for measure, c := range map[string]struct {
		wrong, right *regexp.Regexp
		file         string
	}{"us": {metricWords, usWords, string(us)}, "metric": {usWords, metricWords, metricFile(string(us))}} {
		t.Run(measure, func(t *testing.T) {
			r := readings{t, t.TempDir(), map[string]string{}}
			require.NoError(t, os.Mkdir(r.dir+"/drawn", 0o700))
			r.writes("bench.yaml", c.file)
			for _, line := range lines {
				r.asks(line)
			}
			for _, k := range config.Keys() {
				r.asks("explain -c DIR/bench.yaml " + k.Path)
			}
			r.writes("weather.csv", weatherFile(measure))
			r.asks("rehearse -c DIR/bench.yaml --from 2026-03-02 --days 4 --weather DIR/weather.csv")
			r.writes("dry.yaml", leakSwitch.ReplaceAllString(c.file, "")) // where leaks are found by their water
			for _, d := range sim.Described() {
				r.writes("faults.yaml", faulty(d.Name))
				text := r.asks("rehearse -c DIR/dry.yaml -s DIR/faults.yaml # " + d.Name)
				if d.Name != "valve-stuck" { // there is none on this bench
					assert.Contains(t, text, "Every invariant held.", d.Name)
				}
			}
			for i, wrong := range slips(c.file, measure) {
				_, problems := config.Parse("bench.yaml", []byte(wrong))
				for _, p := range problems {
					r.texts[fmt.Sprintf("slip %d", i)] += p.String() + "\n"
				}
			}
			r.running()
			r.keeps()
			said, read := 0, 0
			for what, text := range r.texts {
				text = peopleRead(text)
				said += len(c.right.FindAllString(text, -1))
				for line := range strings.Lines(text) {
					read++
					assert.Empty(t, c.wrong.FindAllString(line, -1), "%s: %s", what, strings.TrimSpace(line))
					assert.Empty(t, oddFigures(line), "%s: %s", what, strings.TrimSpace(line))
				}
			}
			if into := os.Getenv("TEXTS"); into != "" {
				for what, text := range r.texts {
					_ = os.WriteFile(filepath.Join(into, measure+" "+strings.ReplaceAll(what, "/", "_")), []byte(peopleRead(text)), 0o600)
				}
			}
			t.Logf("%d texts of %d lines read, with %d quantities in units of the site", len(r.texts), read, said)
			assert.Greater(t, said, 700, "quantities in units of the site")
		})
	}
}

// lockedLog is what a daemon says, which wakes whoever waits for a word in it.
type lockedLog struct {
	mu   sync.Mutex
	text strings.Builder
	more *sync.Cond
}

func (l *lockedLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.text.Write(p)
	l.more.Broadcast()
	return len(p), nil
}

func (l *lockedLog) until(word string, times int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for strings.Count(l.text.String(), word) < times {
		l.more.Wait()
	}
}

// running asks a daemon that has seen two floods, one of them with a blocked drain.
func (r readings) running() {
	ctx, end := context.WithCancel(r.t.Context())
	log := &lockedLog{}
	log.more = sync.NewCond(&log.mu)
	var done sync.WaitGroup
	socket := r.dir + "/s"
	done.Go(func() {
		args := "demo -c DIR/dry.yaml --speed 4000 --fault reservoir-leak:tank --state DIR/state --listen 127.0.0.1:0 --socket " + socket
		run(ctx, strings.Fields(strings.ReplaceAll(args, "DIR", r.dir)), strings.NewReader(""), log, log)
		_, _ = log.Write([]byte(strings.Repeat(`event="flood ended"`, 2))) // nobody waits for one that has ended
	})
	log.until(`event="flood ended"`, 2)
	for _, line := range []string{
		"status", "history", "alarms", "outlook --days 9", "took-out tank", "topped-up no tank",
		"calendar -c DIR/bench.yaml --plan --live --days 5", "away -c DIR/bench.yaml --until 2026-03-20", "diary list",
	} {
		r.asks(line, "--socket", socket)
	}
	for _, what := range []string{"--top-up=19 L", "--top-up=1900 L", "--taken-out=1 gal", "--temperature=18.9C", "--temperature=31C", "--temperature=85C", "--temperature=60C", "--ec=1.4", "--ec=2.9", "--top-up=400000 L", "--solution-change"} {
		line := []string{"--place", "tank", "--socket", socket, "-y", what}
		var out, notices bytes.Buffer
		run(ctx, append([]string{"diary", "add"}, line...), strings.NewReader(""), &out, &notices)
		r.texts["diary add "+what] = strings.ReplaceAll(out.String()+notices.String(), strings.TrimPrefix(what, "--"), "")
	}
	r.asks("diary list", "--socket", socket)
	r.asks("status", "--socket", socket)
	end()
	done.Wait()
	r.texts["log"] = log.text.String()
}

var (
	styles = regexp.MustCompile(`(?s)<style.*?</style>|<script.*?</script>`)
	tags   = regexp.MustCompile(`<[^>]*>`)
	logged = regexp.MustCompile(`(?m)^time=\S+ level=\S+ msg=("(?:[^"\\]|\\.)*"|\S+).*$`)
)

// peopleRead is what is left of a page without its tags, and of a line of the log
// without what is there for programs.
func peopleRead(text string) string {
	if strings.Contains(text, "<svg") || strings.Contains(text, "<html") {
		text = tags.ReplaceAllString(styles.ReplaceAllString(text, ""), "\n")
	}
	return strings.ReplaceAll(logged.ReplaceAllString(text, "$1"), "mol/m²", "mol")
}
