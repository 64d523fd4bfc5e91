package drift_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

// floods keeps the floods of a rehearsal.
type floods []controller.Flood

func (f *floods) Turn(t *loop.Turn) {
	for i := range t.Events {
		if e := &t.Events[i]; e.Kind == controller.FloodEnded {
			*f = append(*f, e.Flood)
		}
	}
}

func site(t testing.TB, edit ...string) *config.Site {
	t.Helper()
	text := strings.NewReplacer(edit...).Replace(string(config.Example))
	s, problems := config.Parse("site.yaml", []byte(text))
	require.NoError(t, problems.Err())
	return s
}

var spring = schedule.DateOf(2026, time.March, 2)

func play(t testing.TB, s *config.Site, sc rehearse.Scenario) (floods, *rehearse.Report) {
	t.Helper()
	var f floods
	report, err := rehearse.Run(context.Background(), s, sc, rehearse.Options{Sinks: []loop.Sink{&f}})
	require.NoError(t, err)
	return f, report
}

// found is a finding and the number of the flood that brought it.
type found struct {
	drift.Finding
	flood controller.Flood
}

// follow gives the findings of floods whose times have a normal noise of this
// share and of 1 s.
func follow(s *config.Site, all floods, noise float64, seed uint64) (findings []found) {
	r := rand.New(rand.NewPCG(seed, 2))
	var now controller.Flood
	w := drift.NewWatch(rehearse.Drift(s), []string{"north"}, s.Zone, func(f drift.Finding, _ controller.Message) {
		findings = append(findings, found{f, now})
	})
	for _, f := range all {
		for _, d := range []*time.Duration{&f.Fill, &f.Fall} {
			if *d > 0 {
				*d = time.Duration(float64(*d)*math.Exp(noise*r.NormFloat64()) + float64(time.Second)*r.NormFloat64())
			}
		}
		now = f
		w.Turn(&loop.Turn{Events: []controller.Event{{Kind: controller.FloodEnded, Flood: f}}})
	}
	return findings
}

// noise is how far alike floods differ, besides a second of timing; no source.
const noise = 0.015

const day = 24 * time.Hour

// once is a flood a day all the season, which lets pots dry the most.
var once = []string{
	`{from_day: 10, flood_at: ["08:30", "15:00"],`, `{from_day: 10, flood_at: ["08:30"],`,
	`- {from_day: 24,`, `# `,
}

// during is a season in which something goes wrong from its twentieth day on.
func during(weather string, faults ...rehearse.Fault) rehearse.Scenario {
	sc := rehearse.Plain(spring, 90, 1)
	sc.Weather = weather
	for _, f := range faults {
		f.Where, f.At = "north", begins
		sc.Faults = append(sc.Faults, f)
	}
	return sc
}

var begins = spring.AddDays(20).At(0).In(time.UTC)

var schedules = map[string][]string{"twice to four times a day": nil, "once a day": once}

func TestAPumpThatLosesTwoPercentAWeekIsNamedWithinTenPercent(t *testing.T) {
	const weeks = 10
	latest := 0.0
	for schedule, edit := range schedules {
		s := site(t, edit...)
		for _, weather := range []string{"mild", "normal", "hot"} {
			f, _ := play(t, s, during(weather, rehearse.Fault{What: "pump-weak", Over: weeks * 7 * day, Size: 0.02 * weeks}))
			for seed := range uint64(5) {
				findings := follow(s, f, noise, seed)
				require.NotEmpty(t, findings, "%s, %s weather, noise %d", schedule, weather, seed)
				lost := 0.02 * findings[0].flood.Started.Sub(begins).Hours() / (7 * 24)
				assert.Equal(t, drift.PumpWeak, findings[0].Cause, "%s, %s weather, noise %d: %s", schedule, weather, seed, findings[0])
				assert.Positive(t, lost)
				assert.LessOrEqual(t, lost, 0.10, "%s, %s weather, noise %d", schedule, weather, seed)
				latest = max(latest, lost)
			}
		}
	}
	t.Logf("named at a loss of %.1f %% at the latest", 100*latest)
}

func TestADrainThatBlocksOverTenDaysIsNamedBeforeHighIsReached(t *testing.T) {
	for schedule, edit := range schedules {
		s := site(t, edit...)
		f, report := play(t, s, during("normal", rehearse.Fault{What: "drain-blocked", Over: 10 * day, Size: 1}))
		i := slices.IndexFunc(report.Messages, func(m rehearse.Message) bool { return strings.Contains(m.Text, string(drift.DrainBlocks)) })
		require.GreaterOrEqual(t, i, 0, schedule)
		for _, trip := range report.Trips {
			assert.Greater(t, trip.At, report.Messages[i].At, "%s: it was told before %s", schedule, trip.Interlock)
		}
		for seed := range uint64(5) {
			findings := follow(s, f, noise, seed)
			require.NotEmpty(t, findings)
			assert.Equal(t, drift.DrainBlocks, findings[0].Cause, "%s, noise %d: %s", schedule, seed, findings[0])
			assert.Equal(t, "high", findings[0].Sure)
		}
		t.Logf("%s: told %s; the first interlock acted %s; peak %.1f mm, HIGH at 52 mm", schedule, report.Messages[i].At, firstTrip(report), report.PeakDepthMM)
	}
}

func firstTrip(r *rehearse.Report) string {
	if len(r.Trips) == 0 {
		return "never"
	}
	return r.Trips[0].At + " (" + string(r.Trips[0].Interlock) + ")"
}

const withEmpty = "cycle: {fill"

var empty = []string{withEmpty, "empty_switch: {line: GPIO26, at: 0 mm, water: closes}\n    " + withEmpty}

// The site is the same after forty days but for one thing.
func TestWhatChangedIsToldApartAsFarAsTheTimesAllow(t *testing.T) {
	leak := rehearse.Fault{What: "table-leak", Size: 0.5}
	clogged := rehearse.Fault{What: "pump-weak", Size: 0.12}
	var well rehearse.Fault
	for what, c := range map[string]struct {
		from, to   []string
		was, fault rehearse.Fault
		want       drift.Cause
	}{
		"float raised, EMPTY fitted": {empty, append([]string{"at: 26 mm", "at: 29 mm"}, empty...), well, well, drift.FloatRaised},
		"float raised, no EMPTY":     {nil, []string{"at: 26 mm", "at: 29 mm"}, well, well, drift.TableLeaks}, // in doubt for the worse
		"float lowered":              {nil, []string{"at: 26 mm", "at: 23 mm"}, well, well, drift.FloatLower},
		"pots taken away":            {nil, []string{"pots: 96", "pots: 40"}, well, well, drift.PotsRemoved},
		"pots added":                 {nil, []string{"pots: 96", "pots: 150"}, well, well, drift.PotsAdded},
		"leak, EMPTY fitted":         {empty, empty, well, leak, drift.TableLeaks},
		"leak, no EMPTY":             {nil, nil, well, leak, drift.TableLeaks},
		"screen cleaned":             {nil, nil, clogged, well, drift.PumpStrong},
	} {
		t.Run(what, func(t *testing.T) {
			before := played(t, site(t, c.from...), spring, 40, c.was)
			after := played(t, site(t, c.to...), spring.AddDays(40), 20, c.fault)
			for seed := range uint64(5) {
				findings := follow(site(t, c.from...), append(slices.Clone(before), after...), noise, seed)
				require.Len(t, findings, 1, "one message for one change")
				assert.Equal(t, c.want, findings[0].Cause, findings[0].String())
			}
		})
	}
}

// played is days with a fault from their beginning on, if any.
func played(t *testing.T, s *config.Site, from schedule.Date, days int, fault rehearse.Fault) floods {
	sc := rehearse.Plain(from, days, 1)
	if fault.What != "" {
		fault.Where, fault.At = "north", from.At(0).In(s.Zone)
		sc.Faults = []rehearse.Fault{fault}
	}
	f, _ := play(t, s, sc)
	return f
}

// seasons counts the findings in healthy seasons of 120 days, in all weathers
// and by both schedules.
func seasons(t testing.TB, n int, noise float64) (false int, years float64) {
	weathers := []string{"mild", "normal", "hot"}
	sites := []*config.Site{site(t), site(t, once...)}
	for i := range n {
		sc := rehearse.Plain(spring, 120, uint64(i))
		sc.Weather = weathers[i%3]
		s := sites[i/3%2]
		f, _ := play(t, s, sc)
		for _, x := range follow(s, f, noise, uint64(i)) {
			t.Logf("season %d, %s weather, %s: %s", i, sc.Weather, x.flood.Started.Format(time.DateTime), x)
			false++
		}
	}
	return false, float64(n) * 120 / 365.25
}

func TestHealthySeasonsBringNoMoreThanOneFalseAlarmADecade(t *testing.T) {
	alarms, years := seasons(t, 90, noise)
	assert.LessOrEqual(t, float64(alarms), years/10)
	t.Logf("%d false alarms in %.1f bench-years", alarms, years)
}

// The rate over centuries, which takes longer than a test may.
func BenchmarkFalseAlarms(b *testing.B) {
	for _, noise := range []float64{0.005, noise, 0.02, 0.03} {
		b.Run(fmt.Sprintf("noise=%.1f%%", 100*noise), func(b *testing.B) {
			alarms, years := seasons(b, 30*b.N, noise)
			b.ReportMetric(float64(alarms)/years*10, "alarms/decade")
			b.ReportMetric(years, "bench-years")
		})
	}
}
