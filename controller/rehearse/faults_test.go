package rehearse

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/hw/sim"
)

// overPumped is how far a true pump may exceed the flow of the bench sheet.
const overPumped = 1.15

// window is the litres that the pump of the first bench brings before a FULL
// that does not come stops it: 1.5 × T_fill at the sheet's flow.
func window(site *config.Site) float64 {
	sheet := site.Sheet(0)
	return overPumped * float64(sheet.Pumped) * 1.5 * sheet.Fill.Hours()
}

// Each fault on its own: what became of the floods, which interlocks acted in
// which order of their first act, what a person was told, and that no more spilled
// than is stated. The example's floor can take a spill, so a failed fill latches at
// the second slot in a row.
func TestFaultIsStoppedToldAndRecorded(t *testing.T) {
	for _, tt := range []struct {
		name   string
		floods string // outcomes in order, by their first letter
		acted  []string
		told   string
		urgent bool
	}{
		{name: "relay-welded", floods: "purr", acted: []string{"drain-window latched"}, told: "the pump relay is welded", urgent: true},
		{name: "full-stuck-low", floods: "puurppp", acted: []string{"fill-window", "min-rest", "fill-window latched"}, told: "lift the FULL switch by hand", urgent: true},
		{name: "full-stuck-high", floods: "purrr", acted: []string{"drain-window latched"}, told: "the FULL switch still showed water", urgent: true},
		{name: "drain-blocked", floods: "pirr", acted: []string{"high-level latched", "drain-window latched"}, told: "Clear the standpipe and the drain", urgent: true},
		{name: "standpipe-missing", floods: "puurr", acted: []string{"fill-window", "fill-window latched"}, told: "standpipe", urgent: true},
		{name: "pump-dead", floods: "puurr", acted: []string{"fill-window", "fill-window latched"}, told: "Look at hose, pump", urgent: true},
		{name: "breaker-tripped", floods: "puurppp", acted: []string{"fill-window", "fill-window latched"}, told: "Look at hose, pump", urgent: true},
		{name: "wire-open", floods: "pirr", acted: []string{"high-level latched", "implausible latched"}, told: "its wire is open", urgent: true},
		{name: "switches-unread", floods: "purrr", acted: []string{"high-level latched"}, told: "the HIGH switch shows water", urgent: true},
		{name: "outputs-deaf", floods: "pirrr", acted: []string{"stale", "drain-window latched"}, told: "an output did not obey"},
		{name: "expander-gone", floods: "pippp", acted: []string{"stale"}, told: "The enable relay stays open, and no bench floods until it obeys", urgent: true},
		{name: "process-crash", floods: "pipp", acted: []string{"min-rest"}, told: "the program or its power ended it"},

		// With the hose off every litre lands on the floor until FULL is overdue.
		// The low switch tells that the water did not come home, which latches.
		{name: "hose-off", floods: "purrr", acted: []string{"fill-window latched"}, told: "Look at hose", urgent: true},
		// What was added to a reservoir whose water stood on the table spills
		// when that comes home: no more than a flood. It is no fault of the
		// program's and changes nothing on the bench.
		{name: "top-up-while-flooded", floods: "pppppp"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			site := example(t)
			s := scenario(t, tt.name, site)
			rep := rehearsed(t, site, s)
			assert.Equal(t, tt.floods, outcomes(rep))
			assert.Equal(t, tt.acted, acted(rep))
			if tt.told != "" {
				assertTold(t, rep, tt.told, tt.urgent)
			}
			if one, ok := CaseOf(site, &s); ok {
				assert.LessOrEqual(t, rep.SpilledL, BoundOf(one).Litres(one)+puddle)
			} else {
				assert.LessOrEqual(t, rep.SpilledL, puddle)
			}
			assert.Zero(t, rep.DryPumpS)
			assert.Empty(t, rep.BrokenInvariants)
		})
	}
}

// Without a low switch nothing tells whether the water came home. A floor that
// can take it then gets a second slot's water, any other does not.
func TestHoseOffWithoutALowSwitchLatchesAsTheFloorAllows(t *testing.T) {
	for floor, slots := range map[string]float64{"drained": 2, "dry-room": 1} {
		site := altered(t, "floor: drained", "floor: "+floor, "    low_switch: {line: GPIO23, at: 155 L, water: closes}\n", "")
		rep := rehearsed(t, site, scenario(t, "hose-off", site))
		assert.Equal(t, int(slots), rep.Floods[controller.Unproven], floor)
		assert.Contains(t, acted(rep), "fill-window latched", floor)
		assert.Greater(t, rep.SpilledL, 0.0, floor)
		assert.LessOrEqual(t, rep.SpilledL, slots*window(site), floor)
		assert.Empty(t, rep.BrokenInvariants, floor)
	}
}

// HIGH stops a blocked drain well below the rim; with HIGH dead besides, the
// hold and T_over still do.
func TestBlockedDrainWithHighDeadIsBoundedByTheRun(t *testing.T) {
	site := example(t)
	s := scenario(t, "drain-blocked", site)
	s.Faults = append(s.Faults, Fault{What: "high-dead", Where: "north", At: s.Faults[0].At, Size: 1})
	rep := rehearsed(t, site, s)
	sheet := site.Sheet(0)
	hold := site.Plans[0].Stages[0].Hold
	most := overPumped*float64(sheet.Pumped)*(1.5*sheet.Fill.Hours()+hold.Hours()) - float64(sheet.ToRim)
	assert.LessOrEqual(t, rep.SpilledL, max(0, most))
	assert.Contains(t, acted(rep), "drain-window latched")
	assert.Empty(t, rep.BrokenInvariants)
}

// outcomes are the outcomes of all floods in order, by their first letter.
func outcomes(rep *Report) string {
	var b strings.Builder
	for _, r := range rep.Ledger {
		b.WriteByte((string(r.Outcome) + "?")[0])
	}
	return b.String()
}

// acted lists the interlocks that acted, once each, in order.
func acted(rep *Report) (all []string) {
	for _, trip := range rep.Trips {
		name := string(trip.Interlock)
		if trip.Latched {
			name += " latched"
		}
		if !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	return all
}

func assertTold(t *testing.T, rep *Report, text string, urgent bool) {
	t.Helper()
	i := slices.IndexFunc(rep.Messages, func(m Message) bool {
		return strings.Contains(strings.ToLower(m.Text), strings.ToLower(text)) && (!urgent || m.Urgency == controller.Urgent)
	})
	assert.GreaterOrEqual(t, i, 0, "nobody was told %q", text)
}

func cause(rep *Report, c controller.Cause) (rows []controller.Row) {
	for _, r := range rep.Ledger {
		if r.Cause == c {
			rows = append(rows, r)
		}
	}
	return rows
}

func TestLongPowerCutMissesItsSlotsAndCatchesUpAtMostOnce(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "power-cut-long", site))
	assert.Empty(t, rep.BrokenInvariants)
	assert.Equal(t, 1, rep.Floods[controller.Interrupted])
	assert.LessOrEqual(t, len(cause(rep, controller.ByCatchUp))+len(cause(rep, controller.ByElapsed)), 1)
	for _, r := range rep.Ledger {
		if r.Outcome == controller.Missed {
			assert.NotEmpty(t, r.Reason)
			assert.Nil(t, r.Started)
		}
	}
	assertTold(t, rep, "The controller is back", false)
	assert.Zero(t, rep.SpilledL)
}

func TestWithoutTimeFloodsFollowElapsedTime(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "power-cut-offline", site))
	assert.Empty(t, rep.BrokenInvariants)
	elapsed := cause(rep, controller.ByElapsed)
	assert.Len(t, elapsed, 3, "28 h without trusted time, at two floods a day")
	for _, r := range elapsed {
		assert.Equal(t, controller.Proven, r.Outcome)
	}
	assert.Less(t, rep.LongestGapH["basil_spring"], 30.0)
	assertTold(t, rep, "The clock is trusted again", false)
}

func TestClockStepsNeitherDoubleNorDropAFlood(t *testing.T) {
	for _, name := range []string{"clock-forward", "clock-back"} {
		t.Run(name, func(t *testing.T) {
			site := example(t)
			rep := rehearsed(t, site, scenario(t, name, site))
			assert.Empty(t, rep.BrokenInvariants)
			assert.Equal(t, "pppppppppppp", outcomes(rep))
		})
	}
}

func TestMonthAheadAndBackKeepsThePlantsWatered(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "clock-wild", site))
	assert.Empty(t, rep.BrokenInvariants)
	assert.Less(t, rep.LongestGapH["basil_spring"], 24.0)
	assert.Equal(t, 11, rep.Floods[controller.Proven], "two a day, the month's slots by elapsed time; a flood of the wrong month, at 09:03, stands for that of 15:00")
}

func TestBenchRunsFromMemoryWhileStorageIsBroken(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "storage-broken", site))
	assert.Equal(t, "pppppppppp", outcomes(rep))
	assertTold(t, rep, "storage did not answer", true)
	assert.Empty(t, rep.BrokenInvariants)
}

// A write that takes longer than a start waits keeps no flood from the plants,
// trips nothing, and is made up for.
func TestFloodsRunOnSlowStorageAndAreRecordedLater(t *testing.T) {
	site := example(t)
	r, err := prepare(site, scenario(t, "storage-slow", site), Options{})
	require.NoError(t, err)
	require.NoError(t, r.play(t.Context()))
	late := 0
	r.storage.settle(never - 1)
	for _, f := range r.ledger.Floods {
		assert.Equal(t, controller.Proven, f.Outcome, "slot %s", f.Slot)
		if f.Unrecorded {
			late++
		}
	}
	assert.Equal(t, 5, late, "those of two days, and one that met five seconds")
	rep := r.report()
	assert.Len(t, r.ledger.Floods, len(rep.Ledger), "one row a slot, none of them lost")
	assert.Equal(t, "pppppppppp", outcomes(rep))
	assert.Empty(t, rep.Trips)
	assert.Empty(t, rep.BrokenInvariants)
	assertTold(t, rep, "storage did not answer", true)
	told := 0
	for _, m := range rep.Messages {
		if strings.Contains(m.Text, "storage did not answer") {
			told++
		}
	}
	assert.Equal(t, 1, told, "five floods in a row without a record are told once")
}

func TestADeadThermometerStopsNoFloodAndAPersonKnows(t *testing.T) {
	t.Parallel()
	site := altered(t, "    keep: 20 L ", "    thermometer: {path: /sys/bus/w1/devices/28-000000000001/temperature}\n    keep: 20 L ")
	rep := rehearsed(t, site, scenario(t, "thermometer-dead", site))
	assert.Equal(t, "ppppp", outcomes(rep), "a cold flood rather than none")
	assertTold(t, rep, "frost protection is off", false)
	assertTold(t, rep, "the thermometer can be believed again", false)
	assert.Empty(t, rep.BrokenInvariants)
}

func TestCrashWithBrokenStorageForgetsButStaysSafe(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "storage-broken-crash", site))
	assert.Zero(t, rep.SpilledL)
	assert.Less(t, rep.LongestGapH["basil_spring"], 24.0)
	assert.Empty(t, rep.BrokenInvariants)
}

func TestBrownoutLoopRestsAndThenLatches(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "brownout", site))
	assert.Contains(t, acted(rep), "restart-storm latched")
	assert.LessOrEqual(t, rep.Floods[controller.Interrupted], 7, "two slots, three starts of a storm, two of the next, whose third latches")
	assert.Zero(t, rep.SpilledL)
	assert.Empty(t, rep.BrokenInvariants)
}

func TestLateTurnLatchesAsStalled(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "hang-short", site))
	assert.Equal(t, []string{"stalled latched"}, acted(rep))
	assert.Equal(t, "ppirrr", outcomes(rep))
	assert.Empty(t, rep.BrokenInvariants)
	assert.Zero(t, rep.SpilledL)
}

func TestWatchdogEndsALongHang(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "hang-long", site))
	assert.Equal(t, 1, rep.Floods[controller.Interrupted])
	assert.Empty(t, rep.BrokenInvariants)
	assert.Zero(t, rep.SpilledL)
}

func TestNobodyRefillsAndAPersonKnows(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "unattended-hot", site))
	assert.Equal(t, []string{"reservoir-low"}, acted(rep))
	assert.Zero(t, rep.ToppedUpL)
	assert.Zero(t, rep.DryPumpS)
	assert.Equal(t, 80, rep.Floods[controller.Proven]+rep.Floods[controller.Refused])
	assertTold(t, rep, "Water it by hand now", true)
	assert.Empty(t, rep.BrokenInvariants)
}

func TestPeopleAreAnsweredAndObeyed(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "people", site))
	require.Empty(t, rep.BrokenInvariants)
	var answers []string
	for _, a := range rep.Acts {
		answers = append(answers, a.Do+": "+a.Answer)
	}
	assert.Equal(t, []string{
		"flood: done", "stop: done", "pause: done", "hands-in: done", "end hands-in: done", "skip: done",
		`reset: reset bench "north": nothing is latched`,
		"top-up: top up tank: a table of it is flooded; wait until it has drained",
		"proof-test: done",
	}, answers)
	assert.Equal(t, "pip"+"rrp"+"ipp"+"sp"+"pp", outcomes(rep))
	assert.Empty(t, cause(rep, controller.ByElapsed))
	assert.Len(t, cause(rep, controller.ByHand), 1)
	assert.Len(t, cause(rep, controller.ByCatchUp), 2, "after the pause, and after the work in the bench")
}

func TestWhatADeafBoardSaysIsSaidOnce(t *testing.T) {
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "outputs-deaf", site))
	assert.Equal(t, "the board did not obey: "+sim.ErrDeaf.Error(), rep.Trips[0].Detail)
}

// While outputs do not obey nothing changes until they do: no turn is lived for
// asking them again and again, and the one in which they obey comes at once.
func TestAFaultThatNothingMovesCostsNoTurns(t *testing.T) {
	t.Parallel()
	for _, f := range []Fault{{What: "expander-gone", Where: "flood_pump"}, {What: "outputs-deaf"}} {
		s := plain(t)
		f.At, f.For, f.Size = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), 10*time.Hour, 1
		s.Faults = []Fault{f}
		end, turns, back := f.At.Add(f.For), 0, time.Time{}
		_, err := Run(t.Context(), example(t), s, Options{NoDrift: true, Each: func(m Observation) {
			if m.True.After(f.At) && m.True.Before(end) {
				turns++
			} else if back.IsZero() && !m.True.Before(end) {
				back = m.True
			}
		}})
		require.NoError(t, err)
		assert.Less(t, turns, 100, f.What)
		assert.Equal(t, end, back.UTC(), f.What)
	}
}

// A program that may end is to find a checkpoint when it starts again: no fault
// ends one of which the scenario does not say that it may.
func TestNoFaultEndsAProgramThatKeepsNoCheckpoint(t *testing.T) {
	t.Parallel()
	site, ended := example(t), 0
	for _, what := range sim.Faults() {
		s := Plain(date(t, "2026-03-02"), 1, 1)
		var r *rehearsal
		err := errors.New("no place")
		for _, where := range []string{"north", "flood_pump", "tank", "north.full", ""} {
			if err != nil {
				s.Faults = []Fault{{What: what, Where: where, At: time.Date(2026, 3, 2, 8, 30, 0, 0, time.UTC), For: 10 * time.Hour, Size: 1}}
				r, err = prepare(site, s, Options{NoDrift: true})
			}
		}
		if what == "valve-stuck" {
			continue // the example's drain has no valve
		}
		require.NoError(t, err, what)
		if lives(t, r) > 1 {
			ended++
			assert.True(t, s.restarts(), what)
		}
	}
	assert.Equal(t, 4, ended)
}

// lives plays a rehearsal and counts how often its program was started.
func lives(t *testing.T, r *rehearsal) (n int) {
	var last *loop.Loop
	r.options.Each = func(Observation) {
		if r.loop != last {
			n, last = n+1, r.loop
		}
	}
	require.NoError(t, r.play(t.Context()))
	return n
}

// A hang holds the outputs; the watchdog that ends it bounds what that adds to
// a run, also when the limit fell into it.
func TestHangOverTheLimitOfARunIsBoundedByTheWatchdog(t *testing.T) {
	site := altered(t, "    full_switch: {line: GPIO24, at: 26 mm, water: closes}\n", "",
		"    high_switch: {line: GPIO25, at: 52 mm, water: opens}    # normally closed: a broken wire reads as high water\n", "")
	s := plain(t)
	end := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC).Add(site.Limits().Benches[0].Fill)
	s.Faults = []Fault{{What: "process-hang", At: end.Add(-5 * time.Second), For: 15 * time.Second, Size: 1}}
	rep := rehearsed(t, site, s)
	assert.Empty(t, rep.BrokenInvariants)
	assert.Equal(t, 1, rep.Floods[controller.Interrupted])
}

func TestSanitisingEndsWithRinsedAloneWhateverBecomesOfTheProgram(t *testing.T) {
	t.Parallel()
	site := example(t)
	rep := rehearsed(t, site, scenario(t, "sanitise", site))
	assert.Empty(t, rep.BrokenInvariants)
	for _, f := range rep.Ledger {
		from, until := "2026-03-20T18:00", "2026-03-23T07:00"
		switch {
		case f.Due < from || f.Due >= until:
			assert.Equal(t, controller.Proven, f.Outcome, "%+v", f)
		case f.Cause == controller.ByHand:
			assert.Equal(t, controller.Proven, f.Outcome, "%+v", f)
		default:
			assert.Contains(t, []controller.Outcome{controller.Refused, controller.Missed}, f.Outcome, "%+v", f)
		}
	}
	assert.Greater(t, rep.LongestGapH["basil_spring"], 60.0, "a flood by hand with rinsing water waters no crop")
	assert.Len(t, cause(rep, controller.ByCatchUp), 1, "none is asked for before all is rinsed")
	told := 0
	for _, m := range rep.Messages {
		if strings.Contains(m.Text, "the first flood after rinsing is proven") {
			told++
		}
	}
	assert.Equal(t, 1, told)
}
