package ledger

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// unopened is a ledger that only records into memory.
func unopened(zone *time.Location) *Ledger {
	return &Ledger{
		options: Options{}.withDefaults(), names: namesOf(limits), zone: zone, on: map[string]time.Duration{},
		urgent: make(chan struct{}, 1), begun: make(chan struct{}, 1),
	}
}

func TestABatchThatFailsAnywhereIsTheSameAsOneThatNeverWasTried(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		whole, split := unopened(dublin), unopened(dublin)
		var held batch
		at := noon(1)
		for range rapid.IntRange(1, 20).Draw(t, "turns") {
			at = later(at, time.Duration(rapid.IntRange(0, 9000).Draw(t, "s"))*time.Second)
			f := aFlood(int64(rapid.IntRange(1, 3).Draw(t, "id")))
			f.Attempt = rapid.IntRange(0, 1).Draw(t, "attempt")
			kind := controller.EventKind(rapid.IntRange(0, int(controller.OutputChanged)).Draw(t, "kind"))
			events := []controller.Event{{Kind: kind, At: at, Bench: 0, Output: rapid.IntRange(0, 1).Draw(t, "output"), On: rapid.Bool().Draw(t, "on"), Flood: f}}
			cp := &loop.Checkpoint{Controller: controller.State{NextID: int64(at.Mono)}}
			whole.Record(events, cp)
			split.Record(events, cp)
			if rapid.Bool().Draw(t, "tried") {
				held = held.followedBy(split.next)
				split.next = batch{}
			}
		}
		held = held.followedBy(split.next)
		assert.Equal(t, whole.next.floods, held.floods)
		assert.Equal(t, whole.next.rows, held.rows)
		assert.Equal(t, whole.next.acks, held.acks)
		assert.Equal(t, whole.next.checkpoint, held.checkpoint)
		assert.Equal(t, whole.next.runs, held.runs)
	})
}

func TestShedGivesUpDetailsFirstAndNeverAFlood(t *testing.T) {
	t.Parallel()
	var b batch
	for i := range 10 {
		b.addFlood(flood{aFlood(int64(i + 1)), "north"})
		b.rows = append(b.rows, eventRow(noon(1).Wall, "message", "", 0, fmt.Sprint(i)), pauseRow(noon(1).Wall, "north", true, fmt.Sprint(i)))
	}
	require.Equal(t, 0, b.shed(20))
	require.Equal(t, 7, b.shed(15), "down to nine tenths")
	assert.Len(t, b.rows, 13)
	assert.Equal(t, 8, b.shed(5), "then whatever is oldest")
	for i, r := range b.rows {
		assert.False(t, r.detail)
		assert.Equal(t, fmt.Sprint(i+5), r.args[3])
	}
	assert.Len(t, b.floods, 10)
}

func TestRunTimeGoesToTheLocalDaysItFellOn(t *testing.T) {
	t.Parallel()
	switched := func(at time.Time, mono time.Duration, on bool) controller.Event {
		return controller.Event{Kind: controller.OutputChanged, At: safety.Now{Mono: mono, Wall: at}, Bench: -1, On: on}
	}
	for name, c := range map[string]struct {
		zone *time.Location
		from string // UTC
		on   time.Duration
		want map[string]time.Duration
	}{
		"within a day":      {dublin, "2026-07-01T11:00:00Z", time.Hour, map[string]time.Duration{"2026-07-01": time.Hour}},
		"past midnight":     {dublin, "2026-07-01T22:30:00Z", time.Hour, map[string]time.Duration{"2026-07-01": 30 * time.Minute, "2026-07-02": 30 * time.Minute}},
		"until midnight":    {dublin, "2026-07-01T22:00:00Z", time.Hour, map[string]time.Duration{"2026-07-01": time.Hour}},
		"three days":        {time.UTC, "2026-07-01T12:00:00Z", 48 * time.Hour, map[string]time.Duration{"2026-07-01": 12 * time.Hour, "2026-07-02": 24 * time.Hour, "2026-07-03": 12 * time.Hour}},
		"a day of 23 h":     {dublin, "2026-03-29T00:00:00Z", 23 * time.Hour, map[string]time.Duration{"2026-03-29": 23 * time.Hour}},
		"a day of 25 h":     {dublin, "2026-10-24T23:00:00Z", 25 * time.Hour, map[string]time.Duration{"2026-10-25": 25 * time.Hour}},
		"no 00:00 that day": {mustZone("America/Sao_Paulo"), "2018-11-04T02:00:00Z", 2 * time.Hour, map[string]time.Duration{"2018-11-03": time.Hour, "2018-11-04": time.Hour}},
	} {
		t.Run(name, func(t *testing.T) {
			l := unopened(c.zone)
			from, err := time.Parse(time.RFC3339, c.from)
			require.NoError(t, err)
			l.Record([]controller.Event{switched(from, time.Hour, true), switched(from.Add(c.on), time.Hour+c.on, false)}, nil)
			got := map[string]time.Duration{}
			for k, r := range l.next.runs {
				got[k.date] = r.on
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func TestAnOutputThatStaysOnIsCountedAsItGoes(t *testing.T) {
	t.Parallel()
	l := unopened(dublin)
	at := noon(1)
	l.Record([]controller.Event{{Kind: controller.OutputChanged, At: at, Bench: -1, Output: 1, On: true}}, nil)
	l.Record([]controller.Event{{Kind: controller.HandsInBegan, At: later(at, 59*time.Minute), Bench: -1, Output: -1}}, nil)
	assert.Equal(t, run{starts: 1}, l.next.runs[dayOutput{"2026-07-01", "air"}])
	l.Record([]controller.Event{{Kind: controller.HandsInEnded, At: later(at, 2*time.Hour), Bench: -1, Output: -1}}, nil)
	assert.Equal(t, run{on: 2 * time.Hour, starts: 1}, l.next.runs[dayOutput{"2026-07-01", "air"}])
}

func TestAStepOfTheWallClockDoesNotChangeARunTime(t *testing.T) {
	t.Parallel()
	l := unopened(dublin)
	at := noon(1)
	stepped := later(at, time.Minute)
	stepped.Wall = stepped.Wall.Add(-1e8 * time.Second)
	l.Record([]controller.Event{
		{Kind: controller.OutputChanged, At: at, Bench: -1, On: true}, {Kind: controller.OutputChanged, At: stepped, Bench: -1},
	}, nil)
	var sum time.Duration
	for _, r := range l.next.runs {
		sum += r.on
	}
	assert.Equal(t, time.Minute, sum)
}
