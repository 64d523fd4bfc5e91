package drift_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller"
	"benchtide/controller/drift"
	"benchtide/controller/loop"
)

// run takes floods of these times in seconds, a day apart, and gives every
// finding with the number of its flood.
func run(b drift.Bench, times ...[3]float64) map[int]drift.Finding {
	found := map[int]drift.Finding{}
	var s drift.State
	for i, f := range series(times...) {
		var x *drift.Finding
		if s, x = drift.Next(s, b, f); x != nil {
			found[i] = *x
		}
	}
	return found
}

func series(times ...[3]float64) (floods []drift.Flood) {
	seconds := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	for i, t := range times {
		floods = append(floods, drift.Flood{
			At: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC).AddDate(0, 0, i), Gap: day,
			Fill: seconds(t[0]), Fall: seconds(t[1]), Drain: seconds(t[2]),
		})
	}
	return floods
}

func times(n int, t [3]float64) (all [][3]float64) {
	for range n {
		all = append(all, t)
	}
	return all
}

var usual = [3]float64{200, 120, 0}

func TestOneOddFloodIsNoFinding(t *testing.T) {
	for _, odd := range [][3]float64{{2000, 120, 0}, {20, 120, 0}, {200, 1200, 0}, {200, 12, 0}} {
		all := append(times(20, usual), odd)
		assert.Empty(t, run(drift.Bench{}, append(all, times(20, usual)...)...))
	}
}

func TestALargeChangeIsToldAfterTwoFloodsAndAgainOnceItCannotWait(t *testing.T) {
	found := run(drift.Bench{}, append(times(20, usual), times(30, [3]float64{300, 118, 0})...)...)
	require.Len(t, found, 2)
	assert.Equal(t, drift.PumpWeak, found[21].Cause)
	assert.False(t, found[21].Pressing)
	assert.True(t, found[22].Pressing, "50 % slower three times in a row")
	assert.Contains(t, found[22].String(), "the table fills 50 % slower, falls as before. Likely: the pump brings less (confidence medium). Chore: clean the intake screen this week")
}

func TestAChangeThatStaysIsToldOnceAndAnotherAfterItWasMended(t *testing.T) {
	slow := [3]float64{220, 119, 0}
	all := append(times(20, usual), times(40, slow)...)
	assert.Len(t, run(drift.Bench{}, all...), 1)
	all = append(append(all, times(10, usual)...), times(20, slow)...)
	assert.Len(t, run(drift.Bench{}, all...), 2)
}

func TestChangesTooSmallForAChoreAreNeverTold(t *testing.T) {
	assert.Empty(t, run(drift.Bench{}, append(times(20, usual), times(400, [3]float64{206, 123, 0})...)...))
}

func TestTheDrainTimeTellsALeakFromAFloat(t *testing.T) {
	usual := [3]float64{200, 120, 600}
	leak := run(drift.Bench{}, append(times(20, usual), times(20, [3]float64{206, 104, 520})...)...)
	float := run(drift.Bench{}, append(times(20, usual), times(20, [3]float64{212, 104, 598})...)...)
	require.Len(t, leak, 1)
	require.Len(t, float, 1)
	for _, f := range leak {
		assert.Equal(t, drift.TableLeaks, f.Cause)
		assert.Contains(t, f.String(), "drains 13 % faster")
	}
	for _, f := range float {
		assert.Equal(t, drift.FloatRaised, f.Cause)
	}
}

func TestPotsThatDrinkAsExpectedAreNoDrift(t *testing.T) {
	b := drift.Bench{Fills: 62, Falls: 40, Area: 2.88, Batches: []drift.Batch{{Since: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Holds: 29}}}
	var grown [][3]float64
	for i := range 60 {
		grown = append(grown, [3]float64{186 * (1 + 0.0022*math.Min(float64(i), 42)), 129 * (1 - 0.0012*math.Min(float64(i), 42)), 0})
	}
	assert.Empty(t, run(b, grown...))
	assert.NotEmpty(t, run(drift.Bench{}, grown...), "without the pots it would be one")
}

func TestNextLeavesItsStateAlone(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var s drift.State
		for i := range rapid.IntRange(1, 60).Draw(r, "floods") {
			gap := time.Duration(rapid.IntRange(0, 30).Draw(r, "gap")) * time.Hour
			f := drift.Flood{
				At: time.Date(2026, 3, 2+i, 9, 0, 0, 0, time.UTC), Gap: gap,
				Fill: time.Duration(rapid.IntRange(0, 600).Draw(r, "fill")) * time.Second,
				Fall: time.Duration(rapid.IntRange(0, 600).Draw(r, "fall")) * time.Second,
			}
			before, err := json.Marshal(s)
			require.NoError(r, err)
			next, _ := drift.Next(s, drift.Bench{}, f)
			after, err := json.Marshal(s)
			require.NoError(r, err)
			require.Equal(r, string(before), string(after))
			s = next
		}
	})
}

// ended is the end of a flood as the loop tells it.
func ended(n int, fill, fall time.Duration) *loop.Turn {
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC).AddDate(0, 0, n)
	return &loop.Turn{Names: &controller.Names{Benches: []string{"north"}}, Events: []controller.Event{{Kind: controller.FloodEnded, Flood: controller.Flood{
		Started: at, Ended: at.Add(time.Hour), Fill: fill, Fall: fall, Run: 10 * time.Minute, Counted: true, Outcome: controller.Proven,
	}}}}
}

// watching a bench for n days that turns a fifth slower on the twentieth; anew
// is called then.
func watching(batches []drift.Batch, n int, anew func(*drift.Watch)) (told []controller.Message) {
	w := drift.NewWatch([]drift.Bench{{Batches: batches}}, time.UTC,
		func(_ drift.Finding, m controller.Message) { told = append(told, m) })
	for i := range n {
		fill := 200 * time.Second
		if i >= 20 {
			fill = 240 * time.Second
		}
		if i == 20 {
			anew(w)
		}
		w.Turn(ended(i, fill, 2*time.Minute))
	}
	return told
}

func TestANewBaselineForgetsWhatWasBefore(t *testing.T) {
	told := watching(nil, 60, func(*drift.Watch) {})
	require.Len(t, told, 1)
	assert.Equal(t, controller.ThisWeek, told[0].Urgency)
	assert.Contains(t, told[0].Text, "north: the table fills 20 % slower")
	assert.Empty(t, watching(nil, 60, func(w *drift.Watch) { w.Rebaseline(0) }), "after cleaning")

	comes := drift.Batch{Since: time.Date(2026, 3, 22, 0, 0, 0, 0, time.UTC)}
	assert.Empty(t, watching([]drift.Batch{comes}, 60, func(*drift.Watch) {}), "as a batch came that day")
}

func TestABatchThatIsClosedBeginsANewBaseline(t *testing.T) {
	closed := &loop.Turn{Names: &controller.Names{Benches: []string{"north"}}, Events: []controller.Event{{Kind: controller.BatchClosed}}}
	assert.Empty(t, watching(nil, 60, func(w *drift.Watch) { w.Turn(closed) }))
}

// stored are floods of the first n days, with a fill that changes on the tenth.
func stored(n int, fill, then time.Duration) (all []controller.Flood) {
	for i := range n {
		if i >= 20 {
			fill = then
		}
		all = append(all, ended(i, fill, 2*time.Minute).Events[0].Flood)
	}
	return all
}

func TestARestartNeitherLearnsAnewNorTellsTwice(t *testing.T) {
	const before, slow = 200 * time.Second, 240 * time.Second
	mark := drift.Mark{At: stored(21, before, slow)[20].Started.Add(-time.Hour)}
	for what, c := range map[string]struct {
		stored []controller.Flood
		marks  []drift.Mark
		told   int
	}{
		"a baseline is on record":               {stored: stored(20, before, before), told: 1},
		"nothing is":                            {},
		"the change was told before":            {stored: stored(40, before, slow)},
		"a person began anew as it changed":     {stored: stored(40, before, slow), marks: []drift.Mark{mark}},
		"a person began anew since":             {stored: stored(20, before, before), marks: []drift.Mark{mark}},
		"a mark from before all floods is none": {stored: stored(20, before, before), marks: []drift.Mark{{}}, told: 1},
	} {
		told := 0
		w := drift.NewWatch([]drift.Bench{{}}, time.UTC, func(drift.Finding, controller.Message) { told++ })
		w.Replay(c.stored, c.marks)
		assert.Zero(t, told, what)
		for i := range 10 {
			w.Turn(ended(len(c.stored)+i, slow, 2*time.Minute))
		}
		assert.Equal(t, c.told, told, what)
	}
}

// A float that sticks now and then makes single floods late, two of five at the
// worst. Neither is a change of the bench; a change that is as large and stays is.
func TestAFloatThatSticksNowAndThenIsNoChange(t *testing.T) {
	well, late := [3]float64{200, 200, 500}, [3]float64{228, 200, 500}
	now := times(20, well)
	for range 6 {
		now = append(now, late, well, well, late, well, well, well, well, well, well)
	}
	assert.Empty(t, run(drift.Bench{}, now...))
	assert.Len(t, run(drift.Bench{}, append(times(20, well), times(12, late)...)...), 1)
}
