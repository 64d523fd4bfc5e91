package rehearse

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

func TestScenarioIsRead(t *testing.T) {
	s, err := ParseScenario("s.yaml", []byte(`
from: 2026-03-02
days: 30
seed: 7
weather: hot
attended: false
faults:
  - {what: drain-blocked, where: north, at: "2026-03-06 09:01", size: 80 %}
  - {what: power-cut, at: "2026-03-08T15:02:00+01:00", for: 6 h}
  - {what: clock-jump, at: "2026-04-08 15:02:30", for: 2 h, size: -50 %}
acts:
  - {do: reset, where: north, at: "2026-03-06 18:00", found: leaf in the standpipe}
  - {do: pause, where: north, at: "2026-03-07 18:00", until: "2026-03-08 12:00"}
  - {do: hands-in, at: "2026-03-09 18:00", on: false}
`), example(t))
	require.NoError(t, err)
	at := func(day, hour, min, sec int) time.Time { return time.Date(2026, 3, day, hour, min, sec, 0, time.UTC) }
	assert.Equal(t, Scenario{From: date(t, "2026-03-02"), Days: 30, Seed: 7, Weather: "hot"},
		Scenario{From: s.From, Days: s.Days, Seed: s.Seed, Weather: s.Weather, Attended: s.Attended})
	require.Len(t, s.Faults, 3)
	assert.Equal(t, Fault{What: "drain-blocked", Where: "north", At: at(6, 9, 1, 0), Size: 0.8}, inUTC(s.Faults[0]))
	assert.Equal(t, Fault{What: "power-cut", At: at(8, 14, 2, 0), For: 6 * time.Hour, Size: 1}, inUTC(s.Faults[1]))
	assert.Equal(t, Fault{What: "clock-jump", At: at(31+8, 14, 2, 30), For: 2 * time.Hour, Size: -0.5}, inUTC(s.Faults[2]), "summer time")
	require.Len(t, s.Acts, 3)
	assert.Equal(t, "leaf in the standpipe", s.Acts[0].Found)
	assert.True(t, s.Acts[1].Until.Equal(at(8, 12, 0, 0)))
	assert.False(t, s.Acts[2].On)
}

func inUTC(f Fault) Fault {
	f.At = f.At.UTC()
	return f
}

func TestScenarioHasDefaults(t *testing.T) {
	s, err := ParseScenario("s.yaml", []byte("from: 2026-03-02\ndays: 3\n"), example(t))
	require.NoError(t, err)
	assert.Equal(t, Plain(date(t, "2026-03-02"), 3, 1), s)
}

func TestBadScenarioIsRefusedWithPlaceAndRemedy(t *testing.T) {
	site := example(t)
	for name, tt := range map[string]struct{ text, want string }{
		"empty":          {"", "s.yaml:1:1: the file is empty: begin with from: 2026-03-02 and days: 30"},
		"no YAML":        {"from: 2026-03-02\ndays: [3", "s.yaml:1:1: not YAML: did not find expected ',' or ']'"},
		"not a mapping":  {"- from", `s.yaml:1:1: "": expected the keys from, days, seed, weather, nature, attended, faults, acts`},
		"no days":        {"from: 2026-03-02", "s.yaml:1:1: days: missing"},
		"bad date":       {"from: 2026-02-30\ndays: 3", `s.yaml:1:7: from: read date "2026-02-30": write a day of the calendar as year-month-day, such as 2026-03-02`},
		"no day at all":  {"from: 2026-03-02\ndays: 0", `s.yaml:2:7: days: "0": write how many days it lasts, 1 to 3653`},
		"bad seed":       {"from: 2026-03-02\ndays: 3\nseed: -1", `s.yaml:3:7: seed: "-1": write a whole number from 0`},
		"bad weather":    {"from: 2026-03-02\ndays: 3\nweather: foggy", `s.yaml:3:10: weather: "foggy" is not known: write one of hot, mild, normal`},
		"unknown key":    {"from: 2026-03-02\ndays: 3\nday: 3", `s.yaml:3:1: unknown key "day": known here are from, days, seed, weather, nature, attended, faults, acts`},
		"doubled key":    {"from: 2026-03-02\ndays: 3\ndays: 3", `s.yaml:3:1: key "days" stands here twice: keep one of the two`},
		"no list":        {"from: 2026-03-02\ndays: 3\nacts: mop", "s.yaml:3:7: acts: write a list, each item after a dash"},
		"no plain value": {"from: 2026-03-02\ndays: [3]", "s.yaml:2:7: days: write one plain value"},
		"unknown fault":  {fault("what: pump-ded, at: 2026-03-02 09:00"), `s.yaml:4:12: what: "pump-ded" is not known: write one of air-lock, breaker-tripped,`},
		"unknown place":  {fault("what: pump-dead, where: south, at: 2026-03-02 09:00"), `s.yaml:4:5: fault pump-dead: "south" is not where it can happen; one of north`},
		"no place":       {fault("what: pump-dead, at: 2026-03-02 09:00"), `s.yaml:4:5: fault pump-dead: "" is not where it can happen; one of north`},
		"bad time":       {fault("what: pump-dead, where: north, at: 25:00"), `s.yaml:4:43: at: read local time "25:00": write year-month-day and 24-hour time, such as "2026-03-02 09:00"`},
		"bad size":       {fault("what: drain-blocked, where: north, at: 2026-03-02 09:00, size: 120 %"), "s.yaml:4:5: fault drain-blocked: size 1.2 is not between 0 and 1"},
		"size no share":  {fault("what: drain-blocked, where: north, at: 2026-03-02 09:00, size: big"), `s.yaml:4:71: size: "big": no number at the start`},
		"hang for ever":  {fault("what: process-hang, at: 2026-03-02 09:00"), "s.yaml:4:5: fault process-hang: for 0s; say how long, above 0"},
		"unknown act":    {deed("do: kick, at: 2026-03-02 09:00"), `s.yaml:4:10: do: "kick" is not known: write one of baseline, flood, hands-in,`},
		"no bench":       {deed("do: flood, at: 2026-03-02 09:00"), "s.yaml:4:5: where: missing"},
		"unknown bench":  {deed("do: flood, where: tank, at: 2026-03-02 09:00"), `s.yaml:4:24: where: "tank" is not known: write one of north`},
		"nothing found":  {deed("do: reset, where: north, at: 2026-03-02 09:00"), "s.yaml:4:5: reset: missing: it needs found"},
		"pause no end":   {deed("do: pause, where: north, at: 2026-03-02 09:00"), "s.yaml:4:5: pause: missing: it needs until"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ParseScenario("s.yaml", []byte(tt.text), site)
			require.Error(t, err)
			var problems config.Problems
			require.ErrorAs(t, err, &problems)
			assert.Len(t, problems, 1, err)
			assert.Contains(t, err.Error(), tt.want)
		})
	}
}

func fault(inside string) string {
	return "from: 2026-03-02\ndays: 3\nfaults:\n  - {" + quoted(inside) + "}\n"
}

func deed(inside string) string {
	return "from: 2026-03-02\ndays: 3\nacts:\n  - {" + quoted(inside) + "}\n"
}

// quoted puts the time of an item into quotes.
func quoted(inside string) string {
	head, at, _ := strings.Cut(inside, "at: ")
	at, tail, found := strings.Cut(at, ", ")
	if found {
		tail = ", " + tail
	}
	return head + `at: "` + at + `"` + tail
}

func TestAllProblemsOfAScenarioAreShownInOrder(t *testing.T) {
	_, err := ParseScenario("s.yaml", []byte("days: many\nfrom: soon\n"), example(t))
	require.Error(t, err)
	assert.Len(t, strings.Split(err.Error(), "\n"), 2)
	assert.True(t, strings.HasPrefix(err.Error(), "s.yaml:1:7: "), err)
}

func TestFaultBeforeTheScenarioBeginsIsRefused(t *testing.T) {
	s := Plain(date(t, "2026-03-02"), 3, 1)
	s.Faults = []Fault{{What: "pump-dead", Where: "north", At: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC), Size: 1}}
	_, err := Run(t.Context(), example(t), s, Options{})
	assert.EqualError(t, err, "rehearse: fault pump-dead: 2026-03-01T09:00:00+00:00 is before the scenario begins")
}

func FuzzParseScenario(f *testing.F) {
	f.Add([]byte("from: 2026-03-02\ndays: 3\n"))
	f.Add([]byte(fault("what: pump-dead, where: north, at: 2026-03-02 09:00")))
	f.Add([]byte(deed("do: reset, where: north, at: 2026-03-02 09:00, found: leaf")))
	site := example(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ParseScenario("s.yaml", data, site)
		if _, file := s.RecordsFile(); err == nil && (s.Days < 1 || !file && Weathers[s.Weather].Mean == 0) {
			t.Errorf("accepted %q as %+v", data, s)
		}
	})
}
