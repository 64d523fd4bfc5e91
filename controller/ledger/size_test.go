package ledger

import (
	"os"
	"path/filepath"
	"strings"
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
	details, err := list(t.Context(), l, &details, Query{})
	require.NoError(t, err)
	assert.Less(t, len(details), 50+2*pruneEvery)
	assert.EqualValues(t, 1000, details[len(details)-1].Flood)
	pauses, err := list(t.Context(), l, &pauses, Query{})
	require.NoError(t, err)
	assert.Less(t, len(pauses), 20+2*pruneEvery)
}

// years fills a ledger with years of a bench that floods eight times a day.
func years(t testing.TB, l *Ledger, n int) (end time.Time) {
	memory := unopened(dublin)
	id := int64(0)
	detailed := l.options.KeepEvents / 80 // floods a day times their events
	for day := range n * 365 {
		for k := range 8 {
			id++
			at := later(noon(day+1), time.Duration(k-4)*90*time.Minute)
			if day < n*365-detailed {
				memory.next.addFlood(floodAt(id, at))
				continue
			}
			record(memory, id, at)
		}
		if day%30 == 29 {
			hand(t, l, memory)
		}
	}
	hand(t, l, memory)
	return noon(n * 365).Wall
}

// hand gives what one ledger recorded in memory to another, in one write.
func hand(t testing.TB, l, memory *Ledger) {
	l.mu.Lock()
	l.next, memory.next = memory.next, batch{}
	l.mu.Unlock()
	require.NoError(t, l.Flush(t.Context()))
}

// brim fills the tables that years leaves empty with as much as they keep.
func brim(t testing.TB, l *Ledger) {
	memory := unopened(dublin)
	text := strings.Repeat("a long story ", 10)
	for range l.options.KeepOthers {
		trip := safety.Event{Kind: safety.Tripped, Bench: 0, Interlock: safety.FillWindow, Latched: true, Detail: text}
		proof := safety.Event{Kind: safety.ProofTested, Bench: 0, Switch: "full", Level: safety.Wet}
		memory.Record([]controller.Event{
			{Kind: controller.GuardActed, At: noon(1), Bench: 0, Guard: trip}, {Kind: controller.GuardActed, At: noon(1), Bench: 0, Guard: proof},
			{Kind: controller.PauseBegan, At: noon(1), Bench: 0, Text: text},
		}, nil)
		at := When{noon(1).Wall}
		for _, e := range []Entry{
			Diary{At: at, Kind: Note, Text: text}, Stage{At: at, Batch: "basil", Text: text},
			Settings{At: at, Fingerprint: text, Diff: text}, Commissioning{At: at, Fingerprint: text, Data: []byte(`"` + text + `"`)},
		} {
			r, err := e.row()
			require.NoError(t, err)
			memory.next.rows = append(memory.next.rows, r)
		}
	}
	hand(t, l, memory)
}

func floodAt(id int64, at safety.Now) flood {
	f := aFlood(id)
	f.Due, f.Started, f.Ended = at.Wall, at.Wall, at.Wall.Add(25*time.Minute)
	return flood{f, "north"}
}

// record is what the loop records of one flood.
func record(l *Ledger, id int64, at safety.Now) {
	f := floodAt(id, at).Flood
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

// The stated bounds: MiB of a bench with as much in every table as is kept,
// and the time to read the last month.
const (
	sizeLimit    = 16.0
	historyLimit = 200 * time.Millisecond
)

func TestALedgerWithEveryTableFullStaysUnderItsBound(t *testing.T) {
	t.Parallel()
	const tenth = 10
	dir := t.TempDir()
	one := Options{Limits: limits, Zone: dublin}.withDefaults()
	one.KeepFloods, one.KeepEvents, one.KeepOthers = one.KeepFloods/tenth, one.KeepEvents/tenth, one.KeepOthers/tenth
	one.Limits.Benches = one.Limits.Benches[:1]
	l, _ := open(t, dir, one)
	years(t, l, 1)
	brim(t, l)
	size := mebibytesOf(t, dir)
	require.NoError(t, l.Close())
	t.Logf("a tenth of what is kept of one bench: %.1f MiB, and %.1f MiB once its log is folded", size, mebibytesOf(t, dir))
	assert.Less(t, mebibytesOf(t, dir), sizeLimit/tenth)
}

func BenchmarkHistoryOfAMonthOutOfFiveYears(b *testing.B) {
	dir := b.TempDir()
	l, _ := open(b, dir, Options{Limits: limits, Zone: dublin})
	end := years(b, l, 5)
	size := mebibytesOf(b, dir)
	for b.Loop() {
		rows, err := l.Floods(b.Context(), Query{Since: end.AddDate(0, 0, -30)})
		require.NoError(b, err)
		require.Len(b, rows, 30*8+4)
	}
	require.Less(b, b.Elapsed()/time.Duration(b.N), historyLimit)
	require.Less(b, size, sizeLimit)
	b.ReportMetric(size, "MiB")
}

func BenchmarkRecord(b *testing.B) {
	l, _ := open(b, b.TempDir(), Options{Limits: limits, Zone: dublin})
	events := []controller.Event{switchEvent(noon(1)), floodEvent(controller.FullMade, aFlood(1), noon(1))}
	cp := aCheckpoint()
	for b.Loop() {
		l.Record(events, cp)
	}
}
