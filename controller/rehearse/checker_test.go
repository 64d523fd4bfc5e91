package rehearse

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// A checker that cannot fail proves nothing. Each test here plants one defect
// and wants the invariant that it breaks, named with its bench and time.

// defective prepares a rehearsal whose guard and controller have limits of
// their own, to be spoilt; the checker keeps those of the site.
func defective(t *testing.T, site *config.Site, s Scenario, spoil func(*safety.Limits)) *rehearsal {
	r, err := prepare(site, s, Options{})
	require.NoError(t, err)
	r.setup.Limits.Benches = slices.Clone(r.setup.Limits.Benches)
	r.setup.Limits.Reservoirs = slices.Clone(r.setup.Limits.Reservoirs)
	if spoil != nil {
		spoil(&r.setup.Limits)
	}
	return r
}

func played(t *testing.T, r *rehearsal) []string {
	require.NoError(t, r.play(t.Context()))
	return r.report().BrokenInvariants
}

func assertBroken(t *testing.T, broken []string, want string) {
	t.Helper()
	assert.True(t, slices.ContainsFunc(broken, func(s string) bool { return strings.Contains(s, want) }), "want %q among %q", want, broken)
}

func plain(t testing.TB) Scenario { return Plain(date(t, "2026-03-02"), 2, 1) }

func TestCheckerFindsARunPastItsLimit(t *testing.T) {
	r := defective(t, example(t), plain(t), func(l *safety.Limits) {
		b := &l.Benches[0]
		b.Full, b.High = false, false
		b.Fill *= 4
		b.Flow /= 10
	})
	broken := played(t, r)
	assertBroken(t, broken, "invariant 3: north: flood 1 pumped for 14m0s; its limit is 9m15s")
	assert.True(t, strings.HasPrefix(broken[0], "2026-03-02T09:14:00+00:00 "), broken[0])
}

func TestCheckerFindsAPumpThatIgnoresHigh(t *testing.T) {
	site := example(t)
	r := defective(t, site, scenario(t, "drain-blocked", site), func(l *safety.Limits) { l.Benches[0].High = false })
	assertBroken(t, played(t, r), "invariant 4: north: its pump was on in a turn in which HIGH of north showed water")
}

func TestCheckerFindsARestCutShort(t *testing.T) {
	s := plain(t)
	at := func(hour, min int) time.Time { return time.Date(2026, 3, 2, hour, min, 0, 0, time.UTC) }
	s.Acts = []Act{{Do: "flood", Where: "north", At: at(12, 0)}, {Do: "flood", Where: "north", At: at(12, 20)}}
	r := defective(t, example(t), s, func(l *safety.Limits) { l.Benches[0].Drain = 4 * time.Minute })
	assertBroken(t, played(t, r), "invariant 10: north: its pump started ")
}

func TestCheckerFindsTwoFloodsOnOneReservoir(t *testing.T) {
	site := configured(t, "two-benches.yaml")
	s := Plain(latest(site.Batches), 2, 1)
	r := defective(t, site, s, func(l *safety.Limits) {
		l.Reservoirs = append(l.Reservoirs, safety.ReservoirLimits{Name: "imagined", Usable: 400, Keep: 40})
		l.Benches[1].Reservoir = 1
	})
	r.board.readings = safety.NewReadings(r.setup.Limits)
	broken := played(t, r)
	name := site.Benches[0].Name
	assertBroken(t, broken, "started while flood 4 of "+name+" had not ended")
	assertBroken(t, broken, "its pump ran together with that of "+name)
}

// The third start of a restart storm latches the bench in its own turn: the pump
// does not run, and the flood goes back to the queue while others may start.
func TestAStartThatTheGuardDidNotFollowKeepsNoOtherWaiting(t *testing.T) {
	site := configured(t, "two-benches.yaml")
	start := func(bench int) *controller.Event {
		return &controller.Event{Kind: controller.PumpStarted, Bench: bench, Flood: controller.Flood{ID: int64(bench + 1), Bench: bench}}
	}
	for refused, broken := range map[int64]int{1: 0, 3: 1} {
		r := defective(t, site, Plain(latest(site.Batches), 1, 1), nil)
		r.checker.event(start(0))
		r.checker.event(&controller.Event{Kind: controller.FloodRefused, Flood: controller.Flood{ID: refused}})
		r.checker.event(start(1))
		assert.Len(t, r.checker.broken, broken)
	}
}

func latest(batches []config.Batch) (d schedule.Date) {
	for _, b := range batches {
		d = max(d, b.Transplanted)
	}
	return d
}

func TestCheckerFindsALatchThatARestartForgot(t *testing.T) {
	site := example(t)
	s := scenario(t, "full-stuck-low", site)
	s.Acts = nil
	crash := time.Date(2026, 3, 5, 18, 0, 0, 0, time.UTC)
	s.Faults = append(s.Faults, Fault{What: "process-crash", At: crash, Size: 1})
	r := defective(t, site, s, nil)
	r.agenda.at(r.elapsedAt(crash)+time.Second, func() { r.ledger.Checkpoint.Guard = safety.State{} })
	assertBroken(t, played(t, r), "invariant 5: north: its pump started while the bench was latched")
}

// A board that does not obey the start of a flood latches the bench after the
// start, in the same turn.
func TestAStartThatLatchesItsBenchIsNoStartOfALatchedBench(t *testing.T) {
	s := plain(t)
	s.Faults = []Fault{
		{What: "outputs-deaf", At: time.Date(2026, 3, 2, 9, 1, 0, 0, time.UTC), For: 2 * time.Second},
		{What: "outputs-deaf", At: time.Date(2026, 3, 3, 8, 59, 30, 0, time.UTC), For: 2 * time.Minute},
	}
	r := defective(t, example(t), s, nil)
	assert.Empty(t, played(t, r))
	trips := r.report().Trips
	require.GreaterOrEqual(t, len(trips), 2)
	assert.True(t, trips[1].Latched)
	assert.Equal(t, "2026-03-03T09:00:00+00:00", trips[1].At)
}

func TestCheckerFindsACommandThatNoTurnAllowed(t *testing.T) {
	var old safety.Command
	r := defective(t, example(t), plain(t), nil)
	r.options.Sinks = append(r.options.Sinks, sink(func(t *loop.Turn) {
		if t.Command.On(r.site.Benches[0].Pump) {
			old = t.Command
		}
	}))
	r.agenda.at(12*time.Hour, func() { require.NoError(t, r.board.Apply(old)) })
	assertBroken(t, played(t, r), "2026-03-02T12:00:00+00:00 invariant 1: site: the board was driven")
}

type sink func(*loop.Turn)

func (s sink) Turn(t *loop.Turn) { s(t) }

func TestCheckerFindsAPumpWithoutAFlood(t *testing.T) {
	r := defective(t, example(t), plain(t), nil)
	deaf := newChecker(r.setup, 0, 0, &observer{World: r.world, readings: r.board.readings}, r.local)
	r.options.Sinks = append(r.options.Sinks, sink(func(t *loop.Turn) {
		deaf.Turn(&loop.Turn{Now: t.Now, Command: t.Command})
	}))
	assert.Empty(t, played(t, r))
	assertBroken(t, deaf.broken, "invariant 1: north: its pump started without a flood")
}

// What if the guard let enable stand while a pump's output is silent: the turns of
// that time are shown once more with the command that was in force before.
func TestCheckerFindsEnableClosedWhileAPumpDoesNotAnswer(t *testing.T) {
	site := example(t)
	r := defective(t, site, scenario(t, "expander-gone", site), nil)
	fooled := newChecker(r.setup, 0, 0, &observer{World: r.world, readings: r.board.readings}, r.local)
	var running safety.Command
	silent := 0
	r.options.Sinks = append(r.options.Sinks, sink(func(t *loop.Turn) {
		if t.Command.On(site.Benches[0].Pump) {
			running = t.Command
		}
		if !r.world.Answers(site.Benches[0].Pump) {
			silent++
			fooled.Turn(&loop.Turn{Now: t.Now, Command: running})
		}
	}))
	assert.Empty(t, played(t, r))
	assert.Greater(t, silent, 3, "floods come due meanwhile")
	assertBroken(t, fooled.broken, "invariant 11: site: enable was closed while flood_pump did not answer")
}

func TestCheckerFindsRowsThatDoNotFitTheCalendar(t *testing.T) {
	for name, tt := range map[string]struct {
		spoil func([]controller.Flood) []controller.Flood
		want  string
	}{
		"a row missing":   {func(f []controller.Flood) []controller.Flood { return f[1:] }, "invariant 7: north: slot 2026-03-02T09:00 has no outcome"},
		"a slot twice":    {func(f []controller.Flood) []controller.Flood { return append(f, f[0]) }, "invariant 10: north: slot 2026-03-02T09:00 has 2 rows"},
		"a slot invented": {func(f []controller.Flood) []controller.Flood { f[0].Slot++; return f }, "invariant 10: north: slot 2026-03-02T09:00:01 is not in the calendar"},
		"no outcome":      {func(f []controller.Flood) []controller.Flood { f[0].Outcome = ""; return f }, "invariant 7: north: flood 1 has no outcome"},
		"no reason":       {func(f []controller.Flood) []controller.Flood { f[0].Outcome = controller.Short; return f }, "invariant 7: north: flood 1 is short without a reason"},
		"a run denied": {func(f []controller.Flood) []controller.Flood {
			f[0].Outcome, f[0].Reason = controller.Missed, "x"
			return f
		}, "invariant 7: north: flood 1 is missed and its pump ran"},
		"nothing is wrong": {func(f []controller.Flood) []controller.Flood { return f }, ""},
	} {
		t.Run(name, func(t *testing.T) {
			r := defective(t, example(t), plain(t), nil)
			require.NoError(t, r.play(t.Context()))
			r.diary.floods = tt.spoil(r.diary.floods)
			broken := r.report().BrokenInvariants
			if tt.want == "" {
				assert.Empty(t, broken)
				return
			}
			assertBroken(t, broken, tt.want)
		})
	}
}

func TestCheckerFindsLostWater(t *testing.T) {
	r := defective(t, example(t), plain(t), nil)
	require.NoError(t, r.play(t.Context()))
	truth := r.world.Truth()
	moved := truth.Totals.Moved + truth.Totals.ToppedUp
	truth.Error = 0.9e-6 * moved
	assert.Empty(t, r.checker.finish(r.diary.floods, truth))
	truth.Error = 1.1e-6 * moved
	assertBroken(t, r.checker.finish(r.diary.floods, truth), "invariant 8: site: the books of ")
	truth.Error = math.NaN()
	assertBroken(t, r.checker.finish(r.diary.floods, truth), "are out by NaN L")
}
