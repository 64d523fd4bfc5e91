package ledger

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// guardEvent is one act of the guard on the bench north.
func guardEvent(kind safety.EventKind, why safety.Interlock, at safety.Now) controller.Event {
	return controller.Event{Kind: controller.GuardActed, At: at, Bench: 0, Output: -1,
		Guard: safety.Event{Kind: kind, Bench: 0, Interlock: why, Latched: kind == safety.LatchedEvent, Detail: "as found"}}
}

func recordOne(l *Ledger, kind safety.EventKind, why safety.Interlock, at safety.Now) {
	l.Record([]controller.Event{guardEvent(kind, why, at)}, nil)
}

// acts lists the trips as "interlock act × times".
func acts(t *testing.T, l *Ledger) (list []string, times int) {
	t.Helper()
	trips, err := l.Trips(t.Context(), Query{})
	require.NoError(t, err)
	for _, r := range trips {
		list = append(list, fmt.Sprintf("%s %s × %d", r.Interlock, r.Act, r.Times))
		times += r.Times
	}
	return list, times
}

func TestAnInterlockThatActsAgainAndAgainPushesNothingOut(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits, KeepOthers: 100})
	at := noon(1)
	recordOne(l, safety.LatchedEvent, safety.DrainWindow, at)
	recordOne(l, safety.ResetEvent, safety.DrainWindow, at)
	const drops = 5000
	for n := range drops {
		at = later(at, 5*time.Second)
		recordOne(l, safety.Tripped, safety.LeakFound, at)
		if n%500 == 0 {
			require.NoError(t, l.Flush(context.Background()))
		}
		if n == drops/2 {
			require.NoError(t, l.Close())
			l, _ = open(t, dir, Options{Limits: limits, KeepOthers: 100})
		}
	}
	require.NoError(t, l.Flush(context.Background()))
	list, times := acts(t, l)
	assert.Equal(t, []string{"drain-window latched × 1", "drain-window reset × 1", "leak tripped × 721"}, list[:3], "an hour in one row")
	assert.Len(t, list, 2+7)
	assert.Equal(t, 2+drops, times, "none is lost, none doubled")
	trips, err := l.Trips(t.Context(), Query{Since: later(at, -time.Second).Wall})
	require.NoError(t, err)
	require.Len(t, trips, 1, "what began before and goes on belongs to the time since")
	assert.True(t, trips[0].Last.Equal(at.Wall))
	require.NoError(t, l.Close())
}

func TestWhatCameBetweenBeginsANewRow(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits})
	at := noon(1)
	for _, e := range []struct {
		kind safety.EventKind
		why  safety.Interlock
		wait time.Duration
	}{
		{safety.Tripped, safety.HighLevel, 0}, {safety.Tripped, safety.LeakFound, time.Second}, {safety.Tripped, safety.HighLevel, time.Hour - time.Second},
		{safety.Tripped, safety.HighLevel, time.Second}, {safety.LatchedEvent, safety.HighLevel, 0}, {safety.Tripped, safety.HighLevel, time.Second},
		{safety.ResetEvent, safety.HighLevel, time.Minute}, {safety.Tripped, safety.HighLevel, time.Minute}, {safety.Tripped, safety.HighLevel, -2 * time.Minute},
	} {
		at = later(at, e.wait)
		recordOne(l, e.kind, e.why, at)
	}
	require.NoError(t, l.Flush(context.Background()))
	list, _ := acts(t, l)
	assert.Equal(t, []string{
		"high-level tripped × 2", "leak tripped × 1", "high-level tripped × 1", "high-level latched × 1", "high-level tripped × 1",
		"high-level reset × 1", "high-level tripped × 1", "high-level tripped × 1",
	}, list, "an hour, the other interlock's rows apart; latched, reset and a clock that was set back begin anew")
	require.NoError(t, l.Close())
}

// A commit of which nobody knows whether it came about is tried again.
func TestARepeatIsCountedOnceHoweverOftenItsWriteIsTried(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits})
	require.NoError(t, l.Close())
	s := &l.store
	at := noon(1)
	write := func(kinds ...safety.EventKind) *batch {
		l.next = batch{}
		for _, k := range kinds {
			l.Record([]controller.Event{guardEvent(k, safety.LeakFound, at)}, nil)
			at = later(at, time.Second)
		}
		b := l.next
		b.stored = nil
		return &b
	}
	for _, b := range []*batch{
		write(safety.Tripped, safety.Tripped, safety.Tripped), write(safety.Tripped, safety.LatchedEvent, safety.ResetEvent, safety.Tripped, safety.Tripped),
	} {
		for range 3 {
			require.NoError(t, s.write(b))
		}
	}
	rows, err := s.db.Query("SELECT act, times FROM trips ORDER BY id")
	require.NoError(t, err)
	defer func() { _ = rows.Close() }()
	var got []string
	for rows.Next() {
		var act string
		var times int
		require.NoError(t, rows.Scan(&act, &times))
		got = append(got, fmt.Sprint(act, times))
	}
	require.NoError(t, errors.Join(rows.Err(), rows.Close()))
	assert.Equal(t, []string{"tripped4", "latched1", "reset1", "tripped2"}, got)
	s.close()
}

func TestTheNewestLatchAndResetOfABenchStayHoweverManyOthersCome(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits, KeepOthers: 10})
	at := noon(1)
	recordOne(l, safety.LatchedEvent, safety.DrainWindow, at)
	for range 2 * pruneEvery {
		at = later(at, 2*time.Hour)
		recordOne(l, safety.LatchedEvent, safety.HighLevel, at)
		recordOne(l, safety.ResetEvent, safety.HighLevel, at)
		recordOne(l, safety.Tripped, safety.NotEmpty, at)
		require.NoError(t, l.Flush(context.Background()))
	}
	list, _ := acts(t, l)
	assert.Equal(t, "drain-window latched × 1", list[0])
	assert.Less(t, len(list), pruneEvery+40, "and the others go")
	require.NoError(t, l.Close())
}

func TestMemoryGivesUpTripsThatDidNotLatchBeforeThoseThatDid(t *testing.T) {
	t.Parallel()
	var b batch
	trip := func(kind safety.EventKind) {
		e := guardEvent(kind, safety.LeakFound, noon(1)).Guard
		b.rows = append(b.rows, tripRow(noon(1).Wall, "north", &e, "x"))
	}
	trip(safety.LatchedEvent)
	for range 100 {
		trip(safety.Tripped)
	}
	trip(safety.ResetEvent)
	assert.Equal(t, 84, b.shed(20))
	assert.False(t, b.rows[0].again || b.rows[len(b.rows)-1].again, "latched and reset stay")
}
