package campaign

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

const day = 24 * time.Hour

func TestAFloodInAPauseIsFound(t *testing.T) {
	p, s := exampleMonth(t)
	began := s.From.At(0).In(p.Site.Zone)
	pause := rehearse.Act{Do: "pause", Where: "north", At: began.Add(2*day + 12*time.Hour), Until: began.Add(4 * day)}
	s.Acts = append([]rehearse.Act{pause}, s.Acts...)
	j := judged(t, p, s)
	require.Empty(t, j.charges)
	for _, c := range []struct {
		start
		found bool
	}{
		{start{note: note{at: 3 * day}, cause: controller.BySchedule}, true},
		{start{note: note{at: 3 * day}, cause: controller.ByCatchUp}, true},
		{start{note: note{at: 3 * day}, cause: controller.ByHand}, false},
		{start{note: note{at: 3 * day}, cause: controller.BySchedule, attempt: 1}, false},
		{start{note: note{at: 4 * day}, cause: controller.BySchedule}, false},
		{start{note: note{at: 2*day + 12*time.Hour}, cause: controller.BySchedule}, false},
	} {
		j.charges = nil
		runs := j.runs
		j.runs = append([]start{c.start}, runs...)
		j.judgeRules()
		j.runs = runs
		assert.Equal(t, c.found, len(j.charges) == 1 && j.charges[0].Kind == early, "%+v: %v", c.start, j.charges)
	}
	s.Acts = append(s.Acts, rehearse.Act{Do: "resume", Where: "north", At: began.Add(3*day - time.Hour)})
	j.charges, j.runs = nil, []start{{note: note{at: 3 * day}, cause: controller.BySchedule}}
	j.judgeRules()
	assert.Empty(t, j.charges)
}

func TestAFloodThatWasSkippedIsFound(t *testing.T) {
	p, s := exampleMonth(t, rehearse.Fault{What: "process-crash", For: time.Second})
	skip := rehearse.Act{Do: "skip", Where: "north", At: s.Faults[0].At.Add(-time.Minute)}
	s.Acts = append([]rehearse.Act{skip}, s.Acts...)
	j := judged(t, p, s)
	require.Empty(t, j.charges, "the crash forgets no skip")
	require.True(t, j.answered(&skip))
	runs := slices.Clone(j.runs)
	for _, c := range []struct {
		start
		found bool
	}{
		{start{note: note{at: j.since(skip.At) + 2}, cause: controller.BySchedule}, true},
		{start{note: note{at: j.since(skip.At) + 2}, cause: controller.ByElapsed}, true},
		{start{note: note{at: j.since(skip.At) + 2}, cause: controller.ByHand}, false},
		{start{note: note{at: j.since(skip.At) + 2}, cause: controller.BySchedule, attempt: 1}, false},
		{start{note: note{at: j.since(skip.At) - 2}, cause: controller.BySchedule}, false},
	} {
		j.charges, j.runs = nil, append([]start{c.start}, runs...)
		j.judgeSkips()
		assert.Equal(t, c.found, len(j.charges) == 1 && j.charges[0].Kind == early, "%+v: %v", c.start, j.charges)
	}
	j.charges, j.runs = nil, runs
	j.ends = slices.DeleteFunc(j.ends, func(e end) bool { return e.flood.Outcome == controller.Skipped })
	j.judgeSkips()
	assert.Equal(t, []string{early}, j.kinds(), "a skip that a restart forgot")
}

func TestARefusalWithWaterEnoughIsFound(t *testing.T) {
	p, s := exampleMonth(t)
	j := judged(t, p, s)
	require.Empty(t, j.charges)
	at := note{at: 2*day + 3*time.Hour}
	for _, c := range []struct {
		refusal
		kinds []string
	}{
		{refusal{at, true, 180}, []string{needless}},
		{refusal{at, true, 150}, nil},  // below the low switch
		{refusal{at, false, 180}, nil}, // water is still to come back
	} {
		j.charges, j.low = nil, []refusal{c.refusal}
		j.judgeRules()
		assert.Equal(t, c.kinds, j.kinds())
	}
	j.runs = append(j.runs, start{note: note{at: at.at - 20*time.Minute}, cause: controller.ByHand})
	j.charges, j.low = nil, []refusal{{at, true, 180}}
	j.judgeRules()
	assert.Empty(t, j.charges, "a flood has just ended")
}

func TestALatchAtTheFirstStaleReadingIsFound(t *testing.T) {
	p, s := exampleMonth(t)
	j := judged(t, p, s)
	j.trips = []trip{{note{at: 5 * day}, safety.Stale, true}}
	j.judgeRules()
	assert.Equal(t, []string{needless}, j.kinds())
	for before, found := range map[time.Duration]int{23 * time.Hour: 0, 25 * time.Hour: 1} {
		j.charges, j.trips = nil, []trip{{note{at: 5*day - before}, safety.Stale, false}, {note{at: 5 * day}, safety.Stale, true}}
		j.judgeRules()
		assert.Len(t, j.charges, found)
	}
}

func TestACropThatGetsNoCatchUpIsFound(t *testing.T) {
	cut := rehearse.Fault{What: "power-cut", For: 40 * time.Hour}
	p, s := exampleMonth(t, cut)
	j := judged(t, p, s)
	require.Empty(t, j.charges)
	back := j.since(s.Faults[0].At.Add(cut.For))
	var watered []time.Duration
	for _, at := range j.watered[0] {
		if at < back || at > back+catchesUp+12*time.Hour {
			watered = append(watered, at)
		}
	}
	j.watered[0] = watered
	j.judgeRules()
	assert.Equal(t, []string{unserved}, j.kinds())
}

// Months written by earlier campaigns, of which some have sizes in whole per
// cents, are read as ever.
func TestMonthsWrittenBeforeAreRead(t *testing.T) {
	const old = `# campaign of seed 3, site 5, month 4
# unwatered: basil_spring on north was without water for 60.0 h
from: 2026-04-01
days: 30
seed: 1
weather: hot
attended: false
faults:
  - {what: hose-off, where: north, at: "2026-04-04T01:00:00+01:00", for: 64846.2 s}
  - {what: table-leak, where: north, at: "2026-04-04T01:00:00+01:00", for: 3600 s, over: 1800 s, size: 30 %}
acts:
  - {do: reset, where: north, at: "2026-04-17T10:01:00+01:00", found: "the cause, and mended it"}
  - {do: hands-in, at: "2026-04-17T10:00:00+01:00", on: false}
`
	p, _ := exampleMonth(t)
	s, err := rehearse.ParseScenario("month.yaml", []byte(old), p.Site)
	require.NoError(t, err)
	require.Len(t, s.Faults, 2)
	assert.Equal(t, rehearse.Fault{What: "table-leak", Where: "north", At: s.Faults[1].At, For: time.Hour, Over: 30 * time.Minute, Size: 0.3}, s.Faults[1])
	again, err := rehearse.ParseScenario("month.yaml", []byte(write(&s, p.Site.Zone, "")), p.Site)
	require.NoError(t, err)
	assert.Equal(t, inUTC(s), inUTC(again))
}

// On a bench with HIGH alone nothing shows that water comes back, so the
// guard's count may end a hold. Such a site is lived on and judged; one whose
// floods do not count, or whose FULL should have spared it that, is not.
func TestASiteWhoseHoldsAreCutIsJudged(t *testing.T) {
	cut := fit{high: true, low: "low weighs", enable: true, drained: true}
	site, problems := config.Parse("bench.yaml", []byte(strings.ReplaceAll(cut.file(), "hold: 4 min", "hold: 7 min")))
	require.NoError(t, problems.Err())
	p := &DrawnSite{Site: site, pipes: rehearse.Pipes{}}
	require.NoError(t, p.works(t.Context()))
	month := func() *judgement {
		_, s := exampleMonth(t)
		s.From = monthFrom(2).AddDays(25) // of the longest holds
		s.Acts = nil
		mend(s, p.Site, func(d time.Duration) time.Time { return s.From.At(0).In(p.Site.Zone).Add(d) })
		return judged(t, p, s)
	}
	j := month()
	assert.Empty(t, j.charges)
	assert.True(t, slices.ContainsFunc(j.trips, func(t trip) bool { return t.why == safety.ReservoirLow }), "its holds are cut")

	f := &controller.Flood{Reason: "reservoir-low"}
	assert.ErrorContains(t, p.misses(f), "a flood of north does not count without a fault: reservoir-low")
	f.Counted, f.Outcome, f.Hold, f.Run = true, controller.Short, 7*time.Minute, 8*time.Minute
	assert.NoError(t, p.misses(f))
	f.Run = 7 * time.Minute
	assert.ErrorContains(t, p.misses(f), "a flood of north only just counts without a fault: reservoir-low")
	cut.full = true
	p.Site = cut.site(t)
	assert.ErrorContains(t, p.misses(f), "a flood of north is short without a fault: reservoir-low")
}

// A refusal that begins while another bench floods is looked at again when the flood
// is given up: by then the water has long come home.
func TestAFloodGivenUpForWantOfWaterIsARefusalToo(t *testing.T) {
	refused := safety.Refusal{Interlock: safety.ReservoirLow}
	for _, c := range []struct {
		event controller.Event
		noted bool
	}{
		{controller.Event{Kind: controller.FloodRefused, Refusal: refused}, true},
		{controller.Event{Kind: controller.FloodRefused, Refusal: safety.Refusal{Interlock: safety.HighLevel}}, false},
		{controller.Event{Kind: controller.FloodEnded, Flood: controller.Flood{Outcome: controller.Refused, Reason: "reservoir-low: too little"}}, true},
		{controller.Event{Kind: controller.FloodEnded, Flood: controller.Flood{Outcome: controller.Refused, Reason: "high-level: made"}}, false},
		{controller.Event{Kind: controller.FloodEnded, Flood: controller.Flood{Outcome: controller.Short, Reason: "reservoir-low: counted"}}, false},
	} {
		assert.Equal(t, c.noted, lacked(&c.event), "%+v", c.event)
	}
}

// Whether a bare latched bench counts as given up shows only where a tank without a
// low switch holds less than two floods: campaigns draw enough of those.
func TestReservoirsThatTwoFloodsCannotShareAreDrawn(t *testing.T) {
	shared, tight := 0, 0
	for n := range uint64(30) {
		d := drawDraft(rand.New(rand.NewPCG(31, n)), 2)
		d.stock()
		site, err := parse(d.text())
		if err == nil && d.lean {
			d.tighten(site)
			site, err = parse(d.text())
		}
		if err != nil || len(site.Reservoirs) > 1 {
			continue
		}
		shared++
		l := site.Limits()
		tank := &l.Reservoirs[0]
		if !tank.Low && tank.Usable < l.Benches[0].Flood+l.Benches[1].Flood+tank.Keep {
			tight++
		}
	}
	assert.Greater(t, tight, shared/10, "of %d", shared)
}

// What was poured a moment ago the program cannot know of yet.
func TestASwitchTellsOfWhatIsPouredAfterAWhile(t *testing.T) {
	var p poured
	for _, c := range []struct {
		at           time.Duration
		litres, told float64
	}{{time.Minute, 40, 0}, {2 * time.Minute, 40, 40}, {3 * time.Minute, 100, 40}, {3*time.Minute + time.Second, 100, 40}, {4 * time.Minute, 100, 100}, {4*time.Minute + time.Second, 30, 30}} {
		p.sees(c.at, c.litres)
		assert.Equal(t, c.told, p.told, "at %s", c.at)
	}
}
