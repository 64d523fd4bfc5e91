package campaign

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

var update = flag.Bool("update", false, "write deploy/FAILURES.md anew")

// row is one failure of testdata/scenarios/failures/rows.yaml: what goes wrong
// and what answers it. With scenarios it is played on the example bench with
// each set of sensors and held to what is stated here; without, the answer says
// what a person does about it.
type row struct {
	Number   string
	Failure  string
	Answer   string
	Residual string
	Scenario []played
}

// played is what is stated of one scenario.
type played struct {
	File    string
	Within  span               // from when it can first show to the first message, where somebody is told
	Withins map[string]span    // where another time holds for a set
	Told    []string           // sets of sensors with which somebody is told; "all", "none"
	Latches []string           // those with which the bench stays off until it is reset
	Floor   float64            // L on the floor at the most, of several faults at once
	Floors  map[string]float64 // where another figure holds for a set
	Dry     span               // a pump runs dry at the most, of several faults at once
}

type span time.Duration

func (s *span) UnmarshalYAML(n *yaml.Node) error {
	d, err := time.ParseDuration(n.Value)
	*s = span(d)
	return err
}

// sets are the sets of sensors, each with what it changes in the example: its
// switches are FULL, HIGH and the reservoir's low switch.
var sets = []struct {
	name   string
	change []string
}{
	{"timing", []string{noFull, "", noHigh, "", noLow, ""}},
	{"FULL", []string{noHigh, "", noLow, ""}},
	{"HIGH", []string{noFull, "", noLow, ""}},
	{"FULL+HIGH", []string{noLow, ""}},
	{"+low", nil},
	{"+EMPTY", []string{noHigh, noHigh + "    empty_switch: {line: GPIO17, at: 3 mm, water: closes}\n"}},
	{"+leak", []string{noHigh, noHigh + "    leak_switch: {line: GPIO17, water: opens}\n"}},
}

const (
	noFull = "    full_switch: {line: GPIO24, at: 26 mm, water: closes}\n"
	noHigh = "    high_switch: {line: GPIO25, at: 52 mm, water: opens}    # normally closed: a broken wire reads as high water\n"
	noLow  = "    low_switch: {line: GPIO23, at: 155 L, water: closes}\n"
)

// fittedWith is the example with a set of sensors, a thermometer, and holds
// that FULL alone can guard.
func fittedWith(t *testing.T, change []string) *config.Site {
	text := string(config.Example)
	change = append([]string{
		"hold: 6 min", "hold: 4 min", "hold: 8 min", "hold: 4 min",
		"    keep: 20 L ", "    thermometer: {path: /sys/bus/w1/devices/28-000000000001/temperature}\n    keep: 20 L ",
	}, change...)
	for i := 0; i < len(change); i += 2 {
		require.Contains(t, text, change[i])
		text = strings.ReplaceAll(text, change[i], change[i+1])
	}
	site, problems := config.Parse("bench.yaml", []byte(text))
	require.NoError(t, problems.Err())
	return site
}

const scenarios = "../../../testdata/scenarios/failures"

func rows(t *testing.T) (all []row) {
	data, err := os.ReadFile(filepath.Join(scenarios, "rows.yaml"))
	require.NoError(t, err)
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	require.NoError(t, d.Decode(&all))
	return all
}

// listed is how many failures the list of F numbers has; those of the board
// itself come after them.
const listed = 70

func TestFailuresAreAllAnswered(t *testing.T) {
	var files []string
	for n, r := range rows(t) {
		number := fmt.Sprintf("F%02d", n+1)
		if n >= listed {
			number = fmt.Sprintf("B%02d", n+1-listed)
		}
		assert.Equal(t, number, r.Number)
		assert.NotEmpty(t, r.Answer, r.Number)
		assert.NotEmpty(t, r.Residual, r.Number)
		for _, p := range r.Scenario {
			if !slices.Contains(files, p.File) {
				files = append(files, p.File)
			}
		}
	}
	assert.Greater(t, len(rows(t)), listed)
	found, err := filepath.Glob(filepath.Join(scenarios, "[BF]*.yaml"))
	require.NoError(t, err)
	assert.Len(t, files, len(found), "every scenario belongs to a failure")
}

// TestFailuresAreHeldToWhatIsStated plays every scenario with every set of
// sensors, and keeps the table of what was measured.
func TestFailuresAreHeldToWhatIsStated(t *testing.T) {
	sites := make([]*config.Site, len(sets))
	for i, set := range sets {
		sites[i] = fittedWith(t, set.change)
	}
	leaks := playLeaks(t)
	var table strings.Builder
	table.WriteString(failuresHead)
	for _, r := range rows(t) {
		fmt.Fprintf(&table, "\n## %s %s\n\n%s\n", r.Number, r.Failure, r.Answer)
		for _, p := range r.Scenario {
			fmt.Fprintf(&table, "\n`%s.yaml`\n\n| sensors | noticed by | told after | latched | on the floor | stated | dry | stated |\n|---|---|---|---|---|---|---|---|\n", p.File)
			for i, set := range sets {
				c := play(t, sites[i], p.File)
				c.hold(t, &p, set.name)
				table.WriteString(c.line(&p, set.name))
			}
		}
		table.WriteString(leaks.about(r.Number))
		fmt.Fprintf(&table, "\nWhat remains: %s\n", r.Residual)
	}
	table.WriteString(lastHead)
	for i, set := range sets {
		table.WriteString(stubborn(t, sites[i], set.name))
	}
	const kept = "../../../deploy/FAILURES.md"
	if *update {
		require.NoError(t, os.WriteFile(kept, []byte(table.String()), 0o644))
	}
	text, err := os.ReadFile(kept)
	require.NoError(t, err)
	assert.True(t, string(text) == table.String(), "deploy/FAILURES.md is stale: run the test with -update and read the difference")
}

const failuresHead = `# What can go wrong, and what answers it

Every failure of a flood bench and its controller that is known to us, F01 to
F70, and what its board itself may do, B01 to B04. Where software can meet it, a
scenario in testdata/scenarios/failures plays it on the example bench, once with
each set of sensors: no switch at all (timing), FULL, HIGH, FULL and HIGH, these
and the reservoir's low switch (+low), and EMPTY or a floor sensor besides. A test
holds each to what is stated beside it (rows.yaml) and writes this file from what
it measured.

"Told after" counts from when the failure could first show: its begin, or the
next start of the pump. "Noticed by" is the first interlock that acted. The floor
of the example is one that drains: elsewhere a failed fill latches at once. What is
stated of floor and pump comes from the one table of bounds (controller/rehearse,
bound.go), to which every rehearsal and every month of a campaign is held; of
several faults at once it is stated beside the scenario.
`

const lastHead = `
## What acts only on a defect of the program

Nothing that happens to a bench, a board or a machine makes max-run act: the
controller stops each pump before its limit, or in the turn of the limit at the
latest, where a stop comes first. It is the guard's answer to a controller that
does not. Here one wants the pump for ever, with the longest hold:

| sensors | ended by | after | limit | latched | on the floor |
|---|---|---|---|---|---|
`

// stubborn is a line on what becomes of a wish that never ends.
func stubborn(t *testing.T, site *config.Site, set string) string {
	world, err := rehearse.NewWorld(site, monthFrom(2).At(9*3600).In(site.Zone))
	require.NoError(t, err)
	limits := site.Limits()
	guard, readings, want := safety.New(limits, safety.State{}, world.Now(), ""), safety.NewReadings(limits), safety.NewWant(limits)
	world.Advance(time.Hour)
	want.Benches[0] = safety.RunWant{Pump: true, Flood: 1, Hold: limits.Benches[0].MaxHold}
	turn := func() *safety.View {
		now := world.Now()
		world.Read(now, readings)
		view := guard.Observe(now, readings)
		require.NoError(t, world.Apply(guard.Allow(now, want)))
		guard.Planned(guard.Next())
		require.NoError(t, world.Wait(t.Context(), guard.Next(), nil))
		return view
	}
	for range 20 {
		turn()
	}
	b, l := turn().Benches[0], &limits.Benches[0]
	limit := l.MaxHold + l.Fill*3/2
	switch {
	case !l.Full && !l.High:
		limit = l.Fill
	case !l.High:
		limit = min(limit, b.FullAt-b.Started+l.Over)
	}
	spilled := world.Truth().Totals.Spilled
	assert.Equal(t, limit, b.Stopped-b.Started, set)
	assert.Equal(t, safety.MaxRun, b.Trip.Interlock, set)
	assert.True(t, b.Trip.Latched, set)
	assert.LessOrEqual(t, spilled, drops, set)
	return fmt.Sprintf("| %s | %s | %s | %s | %s | %.1f L |\n", set, b.Trip.Interlock, (b.Stopped - b.Started).Round(time.Second),
		limit.Round(time.Second), map[bool]string{true: "yes", false: "no"}[b.Trip.Latched], spilled)
}

// course is what came of one scenario with one set of sensors.
type course struct {
	*judgement
	told time.Duration
	is   bool // somebody was told
}

func play(t *testing.T, site *config.Site, file string) course {
	data, err := os.ReadFile(filepath.Join(scenarios, file+".yaml"))
	require.NoError(t, err)
	s, err := rehearse.ParseScenario(file+".yaml", data, site)
	if err != nil { // a switch that this set has not
		return course{}
	}
	w := newObserver(site)
	report, err := rehearse.Run(t.Context(), site, s, rehearse.Options{Each: w.each})
	require.NoError(t, err)
	assert.Empty(t, report.BrokenInvariants, file)
	c := course{judgement: &judgement{setting: setting{site, &s}, observer: w, report: report, start: s.From.At(0).In(site.Zone)}}
	c.told, c.is = c.judgement.told(c.trouble())
	return c
}

// trouble is the fault that a message is counted from: the first, or what a
// person does.
func (c *course) trouble() *rehearse.Fault {
	switch {
	case len(c.scenario.Faults) > 0:
		return &c.scenario.Faults[len(c.scenario.Faults)-1]
	case len(c.scenario.Acts) > 0:
		return &rehearse.Fault{Where: c.scenario.Acts[0].Where, At: c.scenario.Acts[0].At}
	}
	return &rehearse.Fault{Where: "north", At: c.start}
}

func (c *course) latched() bool {
	return slices.ContainsFunc(c.trips, func(t trip) bool { return t.latched })
}

func (c *course) noticed() string {
	switch {
	case len(c.trips) > 0:
		return string(c.trips[0].why)
	case len(c.refusals) > 0:
		return string(c.refusals[0]) + " refused"
	case c.is:
		return "the controller"
	}
	return "nothing"
}

// among reports whether a list of sets names this one, by itself or with others.
func among(names []string, set string) bool {
	groups := map[string][]string{
		"all":       {"timing", "FULL", "HIGH", "FULL+HIGH", "+low", "+EMPTY", "+leak"},
		"with FULL": {"FULL", "FULL+HIGH", "+low", "+EMPTY", "+leak"},
		"with HIGH": {"HIGH", "FULL+HIGH", "+low", "+EMPTY", "+leak"},
		"with low":  {"+low", "+EMPTY", "+leak"},
	}
	return slices.ContainsFunc(names, func(n string) bool { return n == set || slices.Contains(groups[n], set) })
}

func (c *course) hold(t *testing.T, p *played, set string) {
	if c.judgement == nil {
		return
	}
	at := p.File + " " + set
	assert.Equal(t, among(p.Told, set), c.is, "%s: somebody is told", at)
	if c.is {
		within, of := p.Withins[set]
		if !of {
			within = p.Within
		}
		assert.LessOrEqual(t, c.told, time.Duration(within), "%s: told in time", at)
	}
	assert.Equal(t, among(p.Latches, set), c.latched(), "%s: latched", at)
	floor, dry := c.stated(p, set)
	assert.LessOrEqual(t, c.report.SpilledL, floor, "%s: on the floor", at)
	assert.LessOrEqual(t, c.longestDry, dry, "%s: dry", at)
}

// stated is what may reach the floor and how long a pump may run dry.
func (c *course) stated(p *played, set string) (litres float64, dry time.Duration) {
	c.allowed = c.allowance()
	if !c.allowed.single {
		floor, other := p.Floors[set]
		if !other {
			floor = p.Floor
		}
		return floor + drops, time.Duration(p.Dry)
	}
	return c.allowed.litres, c.driest()
}

func (c *course) line(p *played, set string) string {
	if c.judgement == nil {
		return fmt.Sprintf("| %s | not fitted | | | | | | |\n", set)
	}
	told, latched := "never", "no"
	if c.is {
		told = c.told.Round(time.Second).String()
	}
	if c.latched() {
		latched = "yes"
	}
	litres, dry := c.stated(p, set)
	return fmt.Sprintf("| %s | %s | %s | %s | %.1f L | %.0f L | %s | %s |\n",
		set, c.noticed(), told, latched, c.report.SpilledL, litres, c.longestDry.Round(time.Second), dry.Round(time.Second))
}
