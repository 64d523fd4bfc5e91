package safety

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStateSurvivesItsOwnText(t *testing.T) {
	rg := newRig(t, site(2))
	failFill(rg, 1, func() {})
	rg.high(1, Wet)
	rg.wait(5 * sec)
	text, err := json.Marshal(rg.g.State())
	require.NoError(t, err)
	var back State
	require.NoError(t, json.Unmarshal(text, &back))
	again := New(rg.l, back, rg.now, "boot-1")
	assert.Equal(t, rg.g.State(), again.State())
}

func TestDirtyTellsOfWhatMustSurvive(t *testing.T) {
	rg := newRig(t, site(1))
	dirty := func(what string, do func()) {
		rg.g.State()
		assert.False(t, rg.g.Dirty())
		do()
		assert.True(t, rg.g.Dirty(), what)
	}
	rg.to(ready)
	assert.False(t, rg.g.Dirty(), "an idle bench")
	dirty("start", func() { rg.want(0, 1, mins) })
	dirty("stop", func() { rg.unwant(0) })
	dirty("HIGH", func() { rg.high(0, Wet) })
	dirty("latch", func() { rg.wait(sec) })
	dirty("verdict", func() { rg.g.FloodEnded(0, true) })
	dirty("hands-in", func() { rg.g.SetHandsIn(rg.now, true) })
	dirty("its end", func() { rg.g.SetHandsIn(rg.now, false) })
	rg.high(0, Dry)
	rg.wait(time.Hour)
	dirty("reset", func() { require.NoError(t, rg.g.Reset(rg.now, 0, "a leaf")) })

	rg = newRig(t, site(1))
	opened := drained(rg) + 150*sec
	rg.to(opened + 100*sec)
	dirty("a weld", func() { rg.full(0, Dry); rg.wait(10 * sec) })
	require.True(t, rg.told(WeldProven, 0, DrainWindow))
}

// times moves each reading of the boot-time clock in a part of the state, and
// notes the paths of whatever is not set.
func times(v reflect.Value, path string, by time.Duration, unset *[]string) {
	if v.IsZero() {
		*unset = append(*unset, path)
	}
	switch {
	case v.Type() == reflect.TypeFor[time.Duration]() && path != ".Mono":
		v.SetInt(v.Int() + int64(by))
	case v.Type() == reflect.TypeFor[time.Time](), strings.HasSuffix(path, ".Learnt"): // lengths
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			times(v.Field(i), path+"."+v.Type().Field(i).Name, by, unset)
		}
	case v.Kind() == reflect.Slice:
		for i := range v.Len() {
			times(v.Index(i), path, by, unset)
		}
	case v.Kind() == reflect.Map:
		for _, k := range v.MapKeys() {
			is := reflect.New(v.Type().Elem()).Elem()
			is.Set(v.MapIndex(k))
			times(is, path+"["+k.String()+"]", by, unset)
			v.SetMapIndex(k, is)
		}
	}
}

// full is a state in which everything is set that a restart has to keep as it is,
// of a bench in the file and of one that left it.
func full() State {
	bench := func(at time.Duration) BenchState {
		return BenchState{
			Latched: []Trip{{HighLevel, at, true, "a"}, {LeakFound, at + 1, true, "b"}}, Weld: true,
			Runs:  []Span{{at + 2, at + 3}, {at + 4, at + 5}},
			Highs: []time.Duration{at + 6, at + 7}, Leaks: []time.Duration{at + 8, at + 9}, Stales: []time.Duration{at + 10, at + 11},
			Retried: true, Failed: true, Watched: true, Resets: 3, Pump: "GPIO90", Enable: "GPIO91", Learnt: [2]time.Duration{190 * sec, 210 * sec},
		}
	}
	return State{
		Boot: "boot-1", Mono: 100 * time.Hour, Wall: noon, Trusted: true, HandsIn: true,
		Starts: []time.Duration{99 * time.Hour, 99*time.Hour + 1}, Storms: []time.Duration{98 * time.Hour, 98*time.Hour + 1},
		Benches: map[string]BenchState{"north": bench(97 * time.Hour), "away": bench(96 * time.Hour)},
	}
}

func TestARestartKeepsAllOfTheStateAndMovesEveryTimeOfIt(t *testing.T) {
	for name, c := range map[string]struct {
		now  Now
		boot string
		by   time.Duration
	}{
		"in the same boot":                        {Now{Mono: 101 * time.Hour, Wall: noon.Add(time.Hour), Trusted: true}, "boot-1", 0},
		"in another, after an hour":               {Now{Mono: mins, Wall: noon.Add(time.Hour), Trusted: true}, "boot-2", mins - 101*time.Hour},
		"in another, which runs for longer":       {Now{Mono: 500 * time.Hour, Wall: noon.Add(time.Hour), Trusted: true}, "boot-2", 399 * time.Hour},
		"in another, after who knows how long":    {Now{Mono: mins, Wall: noon.Add(time.Hour)}, "boot-2", -100 * time.Hour},
		"in another, by a clock that went back":   {Now{Mono: mins, Wall: noon.Add(-time.Hour), Trusted: true}, "boot-2", -100 * time.Hour},
		"in one that nobody knows, after an hour": {Now{Mono: mins, Wall: noon.Add(time.Hour), Trusted: true}, "", mins - 101*time.Hour},
	} {
		t.Run(name, func(t *testing.T) {
			l := site(1)
			l.Outputs[l.Benches[0].Pump].Line, l.Outputs[enableOut].Line = "GPIO3", "GPIO0"
			was, want := full(), full()
			for _, s := range []*State{&was, &want} {
				here := s.Benches["north"]
				here.Pump, here.Enable = "GPIO3", "GPIO0"
				s.Benches["north"] = here
			}
			var unset []string
			times(reflect.ValueOf(&want).Elem(), "", c.by, &unset)
			assert.Equal(t, []string{".Benches[away].Homing", ".Benches[away].Running", ".Benches[north].Homing", ".Benches[north].Running", ".Lost"},
				slices.Sorted(slices.Values(unset)), "what a restart settles; anything new belongs into this state")
			want.Boot, want.Mono, want.Wall, want.Trusted = c.boot, c.now.Mono, c.now.Wall, c.now.Trusted
			assert.Equal(t, want, New(l, was, c.now, c.boot).State())
		})
	}
}

func TestTableCountsAsFullAfterEveryStart(t *testing.T) {
	rg := newRig(t, site(2))
	assert.Equal(t, Standing, rg.b(0).Water)
	assert.Zero(t, rg.b(0).Stopped)
	rg.to(ready - tick)
	assert.Equal(t, MinRest, rg.start(0).Interlock)
	rg.wait(tick)
	assert.Equal(t, Gone, rg.b(0).Water)
	assert.False(t, rg.start(0).Refused())
}

func TestRestAfterARestart(t *testing.T) {
	// A run of a minute ended 5 minutes before the program did.
	for name, c := range map[string]struct {
		off     time.Duration
		boot    string
		trusted bool
		running bool
		rest    time.Duration // from the new start
	}{
		"same boot, the stop counts":             {0, "boot-1", false, false, 10 * mins}, // 12 - 5 is less than the drain
		"same boot, still running at the end":    {0, "boot-1", false, true, 12 * mins},
		"same boot, long ago":                    {time.Hour, "boot-1", false, false, 10 * mins},
		"other boot, no clock":                   {time.Hour, "boot-2", false, false, 12 * mins},
		"other boot, both clocks trusted":        {time.Hour, "boot-2", true, false, 10 * mins},
		"other boot, trusted, just stopped":      {0, "boot-2", true, true, 12 * mins},
		"unknown boot counts as another":         {0, "", false, false, 12 * mins},
		"trusted clocks that ran back tell none": {-time.Hour, "boot-2", true, false, 12 * mins},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, site(1))
			rg.now.Trusted = c.trusted
			rg.flood(0, 1)
			rg.wait(mins)
			if !c.running {
				rg.unwant(0)
				rg.wait(5 * mins)
			}
			rg.restart(c.off, c.boot)
			start := rg.now.Mono
			rg.to(start + c.rest - tick)
			assert.Equal(t, MinRest, rg.start(0).Interlock)
			rg.wait(tick)
			assert.False(t, rg.start(0).Refused())
		})
	}
}

func TestBothClocksHaveToBeTrustedToTellAnOutage(t *testing.T) {
	for _, before := range []bool{false, true} {
		rg := newRig(t, site(1))
		rg.flood(0, 1)
		rg.unwant(0)
		rg.now.Trusted = before
		rg.wait(mins)
		s := rg.g.State()
		rg.now = Now{Wall: rg.now.Wall.Add(time.Hour), Trusted: !before}
		g := New(rg.l, s, rg.now, "boot-2")
		assert.Equal(t, 12*mins, g.benches[0].rest, "full rest")
	}
}

func TestBudgetsAgeByWhatIsKnownOfTheTime(t *testing.T) {
	for name, c := range map[string]struct {
		boot    string
		trusted bool
		off     time.Duration
		starts  bool // within the last hour still
	}{
		"same boot":              {"boot-1", false, 50 * mins, false},
		"other boot, trusted":    {"boot-2", true, 50 * mins, false},
		"other boot, untrusted":  {"boot-2", false, 50 * mins, true},
		"same boot, short break": {"boot-1", false, 20 * mins, true},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, site(1))
			rg.now.Trusted = c.trusted
			rg.to(time.Hour)
			for range 6 {
				ran(rg, 59*mins, sec)
			}
			rg.restart(c.off, c.boot)
			rg.wait(12 * mins)
			assert.Equal(t, c.starts, rg.start(0).Interlock == Starts, "%v", rg.start(0))
		})
	}
}

func TestTimesFromTheFutureCountAsNow(t *testing.T) {
	s := State{Boot: "b", Mono: time.Hour, Benches: map[string]BenchState{
		"north":  {Runs: []Span{{2 * time.Hour, 3 * time.Hour}}, Latched: []Trip{{Interlock: LeakFound, At: 9 * time.Hour}}},
		"gone":   {Watched: true},
		"absent": {},
	}}
	rg := newRig(t, site(1))
	rg.g = New(rg.l, s, rg.now, "b")
	rg.turn()
	assert.Zero(t, rg.b(0).Latched[0].At)
	assert.Equal(t, 12*mins, rg.g.benches[0].rest)
	assert.Zero(t, rg.g.benches[0].runs.used(0))
}

func TestARunCutOffByTheEndOfTheProgramCountsAtMostItsLimit(t *testing.T) {
	rg := newRig(t, site(1))
	rg.flood(0, 1)
	rg.wait(mins)
	rg.restart(3*time.Hour, "boot-1")
	assert.Equal(t, 10*mins, rg.g.benches[0].runs.used(rg.now.Mono))
}

func TestFailedFillThatWasStillOutAtTheEndOfTheProgramLatches(t *testing.T) {
	for _, drained := range []bool{false, true} {
		rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low, l.FloorDrained = true, drained })
		failFill(rg, 1, func() { rg.low(Dry) })
		rg.restart(mins, "boot-1")
		assert.Equal(t, !drained, rg.latched(0, FillWindow))
		assert.Equal(t, !drained, rg.told(LatchedEvent, 0, FillWindow))
		assert.True(t, rg.g.State().Benches["north"].Failed)
		if rg.wait(time.Hour); drained {
			assert.Equal(t, ReservoirLow, rg.start(0).Interlock, "the reservoir has lost its water")
		}
	}
}
