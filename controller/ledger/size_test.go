package ledger

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

func TestOldRowsLeaveByTheirNumberAndOpenFloodsStay(t *testing.T) {
	t.Parallel()
	one := limits
	one.Benches = one.Benches[:1]
	l, _ := open(t, t.TempDir(), Options{Limits: one, KeepFloods: 100, KeepEvents: 50, KeepOthers: 20})
	l.Record([]controller.Event{floodEvent(controller.FloodIntended, intended(aFlood(1)), noon(1))}, nil)
	for id := int64(2); id <= 1000; id++ {
		at := noon(1)
		if id%2 == 0 {
			at.Wall = at.Wall.AddDate(100, 0, 0) // a clock gone mad
		}
		l.Record([]controller.Event{
			floodEvent(controller.FloodEnded, aFlood(id), at),
			{Kind: controller.PauseBegan, At: at, Bench: 0, Output: -1},
		}, nil)
		if id%50 == 0 {
			require.NoError(t, l.Flush(t.Context()))
		}
	}
	require.NoError(t, l.Flush(t.Context()))
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	assert.Less(t, len(rows), 100+2*pruneEvery)
	assert.EqualValues(t, 1, rows[0].ID, "an open flood is never let go")
	assert.EqualValues(t, 1000, rows[len(rows)-1].ID)
	details, err := l.Details(t.Context(), Query{})
	require.NoError(t, err)
	assert.Less(t, len(details), 50+2*pruneEvery)
	assert.EqualValues(t, 1000, details[len(details)-1].Flood)
	pauses, err := l.Pauses(t.Context(), Query{})
	require.NoError(t, err)
	assert.Less(t, len(pauses), 20+2*pruneEvery)
}

// years fills a ledger with years of a bench that floods eight times a day,
// trips once a month and has its diary kept weekly.
func years(t testing.TB, dir string, n int) (l *Ledger, end time.Time) {
	l, _ = open(t, dir, Options{Limits: limits, Zone: dublin})
	id := int64(0)
	for day := range n * 365 {
		for flood := range 8 {
			id++
			record(l, id, later(noon(day+1), time.Duration(flood-4)*90*time.Minute))
		}
		at := noon(day + 1)
		if day%30 == 0 {
			trip := safety.Event{Kind: safety.Tripped, Bench: 0, Interlock: safety.FillWindow, Latched: true, Detail: "FULL was not made in 5m15s"}
			l.Record([]controller.Event{{Kind: controller.GuardActed, At: at, Bench: 0, Output: -1, Guard: trip}}, nil)
		}
		if day%7 == 0 {
			litres := 60.0
			require.NoError(t, l.Add(t.Context(), Diary{At: When{at.Wall}, Place: "tank", Kind: TopUp, Value: &litres, Unit: "L"}))
		}
	}
	require.NoError(t, l.Flush(t.Context()))
	return l, noon(n * 365).Wall
}

// record is what the loop records of one flood.
func record(l *Ledger, id int64, at safety.Now) {
	f := aFlood(id)
	f.Due, f.Started, f.Ended = at.Wall, at.Wall, at.Wall.Add(25*time.Minute)
	out := func(after time.Duration, output int, on bool) controller.Event {
		return controller.Event{Kind: controller.OutputChanged, At: later(at, after), Bench: -1, Output: output, On: on}
	}
	l.Record([]controller.Event{
		out(-10*time.Minute, 1, true), out(0, 1, false), out(0, 0, true),
		floodEvent(controller.PumpStarted, f, at), switchEvent(later(at, 3*time.Minute)), floodEvent(controller.FullMade, f, later(at, 3*time.Minute)),
		out(9*time.Minute, 0, false), floodEvent(controller.PumpStopped, f, later(at, 9*time.Minute)), switchEvent(later(at, 11*time.Minute)),
		floodEvent(controller.FloodEnded, f, later(at, 25*time.Minute)),
	}, nil)
}

// mebibytesOf is the size of a ledger's files.
func mebibytesOf(t testing.TB, dir string) float64 {
	var sum int64
	for _, end := range []string{"", "-wal"} {
		if info, err := os.Stat(filepath.Join(dir, fileName+end)); err == nil {
			sum += info.Size()
		}
	}
	return float64(sum) / (1 << 20)
}

// The stated bounds: on size for a bench, with what is kept unless told
// otherwise, and on reading the last month.
const (
	sizeLimit    = 16.0 // MiB
	historyLimit = 200 * time.Millisecond
)

func TestFiveYearsStaySmallAndTheLastMonthIsReadAtOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("writes five years")
	}
	dir := t.TempDir()
	l, end := years(t, dir, 5)
	size := mebibytesOf(t, dir)
	start := time.Now()
	rows, err := l.Floods(t.Context(), Query{Since: end.AddDate(0, 0, -30)})
	took := time.Since(start)
	require.NoError(t, err)
	require.NoError(t, l.Close())
	start = time.Now()
	_, _, err = Open(dir, Options{Limits: limits})
	require.NoError(t, err)
	t.Logf("five years, eight floods a day: %.1f MiB; the last 30 days (%d floods) read in %s; checked and opened in %s", size, len(rows), took, time.Since(start))
	assert.Len(t, rows, 30*8+4)
	assert.Less(t, size, sizeLimit)
	assert.Less(t, took, historyLimit)
}

func BenchmarkHistoryOfAMonthOutOfFiveYears(b *testing.B) {
	dir := b.TempDir()
	l, end := years(b, dir, 5)
	b.ReportMetric(mebibytesOf(b, dir), "MiB")
	for b.Loop() {
		rows, err := l.Floods(b.Context(), Query{Since: end.AddDate(0, 0, -30)})
		require.NoError(b, err)
		require.NotEmpty(b, rows)
	}
}

func BenchmarkRecord(b *testing.B) {
	l, _ := open(b, b.TempDir(), Options{Limits: limits, Zone: dublin})
	events := []controller.Event{switchEvent(noon(1)), floodEvent(controller.FullMade, aFlood(1), noon(1))}
	cp := aCheckpoint()
	for b.Loop() {
		l.Record(events, cp)
	}
}
