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
	w := drift.NewWatch(rehearse.Drift(s), s.Zone, func(f drift.Finding, _ controller.Message) {
		findings = append(findings, found{f, now})
	})
	for _, f := range all {
		for _, d := range []*time.Duration{&f.Fill, &f.Fall} {
			if *d > 0 {
				*d = time.Duration(float64(*d)*math.Exp(noise*r.NormFloat64()) + float64(time.Second)*r.NormFloat64())
			}
		}
		now = f
		w.Turn(&loop.Turn{Names: &controller.Names{Benches: []string{"north"}}, Events: []controller.Event{{Kind: controller.FloodEnded, Flood: f}}})
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

// weeks that a pump weakens by 2 % each.
const weeks = 10

// eachWeakening plays that by both schedules in each weather.
func eachWeakening(t testing.TB, do func(s *config.Site, f floods, what string)) {
	for schedule, edit := range schedules {
		s := site(t, edit...)
		for _, weather := range []string{"mild", "normal", "hot"}[:short(3, 1)] {
			f, _ := play(t, s, during(weather, rehearse.Fault{What: "pump-weak", Over: weeks * 7 * day, Size: 0.02 * weeks}))
			do(s, f, schedule+", "+weather+" weather")
		}
	}
}

// lossAt is what the pump had lost when it was found.
func lossAt(x found) float64 { return 0.02 * x.flood.Started.Sub(begins).Hours() / (7 * 24) }

func TestAPumpThatLosesTwoPercentAWeekIsNamedWithinTenPercent(t *testing.T) {
	latest := 0.0
	eachWeakening(t, func(s *config.Site, f floods, what string) {
		for seed := range uint64(5) {
			findings := follow(s, f, noise, seed)
			require.NotEmpty(t, findings, "%s, noise %d", what, seed)
			lost := lossAt(findings[0])
			assert.Equal(t, drift.PumpWeak, findings[0].Cause, "%s, noise %d: %s", what, seed, findings[0])
			assert.Positive(t, lost)
			assert.LessOrEqual(t, lost, 0.10, "%s, noise %d", what, seed)
			latest = max(latest, lost)
		}
	})
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
		"float raised, EMPTY fitted": {append([]string{"at: 26 mm", "at: 25 mm"}, empty...), append([]string{"at: 26 mm", "at: 28 mm"}, empty...), well, well, drift.FloatRaised},
		"float raised, no EMPTY":     {[]string{"at: 26 mm", "at: 25 mm"}, []string{"at: 26 mm", "at: 28 mm"}, well, well, drift.TableLeaks}, // in doubt for the worse
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
			for seed := range uint64(short(5, 1)) {
				findings := follow(site(t, c.from...), append(slices.Clone(before), after...), noise, seed)
				findings = slices.DeleteFunc(findings, func(f found) bool { return f.Cause == drift.NearLimit })
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

// seasons counts the findings at each noise in healthy seasons of 120 days, in
// all weathers and by both schedules.
func seasons(t testing.TB, first uint64, n int, noises ...float64) (alarms []int, years float64) {
	weathers := []string{"mild", "normal", "hot"}
	sites := []*config.Site{site(t), site(t, once...)}
	alarms = make([]int, len(noises))
	for i := range n {
		seed := first + uint64(i)
		sc := rehearse.Plain(spring, 120, seed)
		sc.Weather = weathers[i%3]
		s := sites[i/3%2]
		f, _ := play(t, s, sc)
		for j, noise := range noises {
			for _, x := range follow(s, f, noise, seed) {
				t.Logf("season %d, noise %.1f %%, %s weather, %s: %s", seed, 100*noise, sc.Weather, x.flood.Started.Format(time.DateTime), x)
				alarms[j]++
			}
		}
	}
	return alarms, float64(n) * 120 / 365.25
}

func TestHealthySeasonsBringNoMoreThanOneFalseAlarmADecadeHoweverFloodsScatter(t *testing.T) {
	noises := []float64{0.005, noise, 0.02, 0.03, 0.05}
	alarms, years := seasons(t, 0, short(66, 3), noises...)
	for i, noise := range noises {
		t.Logf("%d false alarms in %.1f bench-years at %.1f %%", alarms[i], years, 100*noise)
		assert.LessOrEqual(t, float64(alarms[i]), years/10)
	}
}

// The rates over centuries, which take longer than a test may: with
// -benchtime=20x of 237 bench-years.
func BenchmarkFalseAlarms(b *testing.B) {
	noises := []float64{0.005, noise, 0.02, 0.03, 0.04, 0.05, 0.08}
	alarms, years := seasons(b, 300000, 36*b.N, noises...)
	b.ReportMetric(years, "bench-years")
	for i, noise := range noises {
		b.ReportMetric(float64(alarms[i])/years*10, fmt.Sprintf("alarms/decade@%.1f%%", 100*noise))
	}
}

// How much a pump that loses 2 % a week has lost when it is named, with more
// noise than a test takes.
func BenchmarkWeakPump(b *testing.B) {
	noises := []float64{0, 0.005, noise, 0.02, 0.03, 0.04, 0.05}
	latest, late, runs := make([]float64, len(noises)), make([]int, len(noises)), 0
	for range b.N {
		eachWeakening(b, func(s *config.Site, f floods, what string) {
			for seed := range uint64(50) {
				runs++
				for i, noise := range noises {
					lost := 0.2 // never named
					if x := follow(s, f, noise, 700000+seed); len(x) > 0 && x[0].Cause == drift.PumpWeak {
						lost = lossAt(x[0])
					}
					latest[i] = max(latest[i], lost)
					if lost > 0.1 {
						late[i]++
					}
				}
			}
		})
	}
	for i, noise := range noises {
		b.ReportMetric(100*latest[i], fmt.Sprintf("%%lost@%.1f%%", 100*noise))
		b.ReportMetric(100*float64(late[i])/float64(runs), fmt.Sprintf("%%late@%.1f%%", 100*noise))
	}
}
