package ledger

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
	"benchtide/schedule"
)

var update = flag.Bool("update", false, "write the golden files anew")

// filled is a ledger with something in every table.
func filled(t *testing.T) *Ledger {
	l, _ := open(t, t.TempDir(), Options{Limits: limits, Zone: dublin})
	fill(t, l)
	return l
}

func fill(t *testing.T, l *Ledger) {
	l.Keep(anOutbox(), true)
	litres := 40.5
	south := aFlood(2)
	south.Bench, south.HasSlot, south.Outcome, south.Reason, south.Fill = 1, false, controller.Unproven, "timed: no FULL switch, \"believed\"", 0
	first := aFlood(1)
	first.Slot = schedule.CivilIn(first.Due, dublin)
	guard := func(e safety.Event) controller.Event {
		return controller.Event{Kind: controller.GuardActed, At: noon(2), Bench: e.Bench, Output: -1, Guard: e}
	}
	l.Record([]controller.Event{
		floodEvent(controller.FloodEnded, first, noon(1)),
		floodEvent(controller.FloodEnded, south, noon(2)),
		guard(safety.Event{Kind: safety.Tripped, Bench: 0, Interlock: safety.DrainWindow, Latched: true, Detail: "FULL not clear"}),
		guard(safety.Event{Kind: safety.LatchedEvent, Bench: 0, Interlock: safety.DrainWindow, Latched: true, Detail: "FULL not clear"}),
		guard(safety.Event{Kind: safety.ResetEvent, Bench: 0, Interlock: safety.DrainWindow, Detail: "leaf in the standpipe"}),
		guard(safety.Event{Kind: safety.ProofTested, Bench: 1, Switch: "high", Level: safety.Wet}),
		guard(safety.Event{Kind: safety.SwitchChanged, Bench: -1, Switch: "low", Level: safety.Dry}),
		{Kind: controller.PauseBegan, At: noon(3), Bench: 1, Output: -1, Text: "until Friday, by hand"},
		{Kind: controller.OutputChanged, At: noon(4), Bench: -1, Output: 0, On: true},
		{Kind: controller.OutputChanged, At: later(noon(4), 1500*time.Millisecond), Bench: -1, Output: 0},
		{Kind: controller.MessageSent, At: noon(4), Bench: 0, Output: -1, Message: controller.Message{Urgency: controller.Urgent, Text: "look"}},
		{Kind: controller.ReservoirWeighed, At: noon(4), Bench: 0, Output: -1, Weighing: controller.Weighing{At: noon(4).Wall, Flood: 1, Litres: 181.5, Give: 1.5, Noted: 12, Gone: 6.25, Paired: true}},
		{Kind: controller.ReservoirWeighed, At: noon(4), Bench: 0, Output: -1, Weighing: controller.Weighing{At: noon(5).Wall, Flood: 2, Litres: 190, Give: 1.5, Came: 8.5}},
	}, aCheckpoint())
	at := When{noon(5).Wall}
	for _, e := range []Entry{
		Diary{At: at, Place: "tank", Kind: TopUp, Value: &litres},
		Diary{At: When{noon(1).Wall}, Place: "north", Kind: Note, Text: "first\nleaves"},
		Commissioning{At: at, What: "calibration", Place: "north", Fingerprint: "abc", Data: json.RawMessage(`{"fill_s":210}`)},
		Stage{At: at, Batch: "basil", Stage: 1, Text: "from day 10"},
		Settings{At: at, Fingerprint: "def", Diff: "+ hold: 6 min"},
	} {
		require.NoError(t, l.Add(t.Context(), e))
	}
}

func TestFloodsAreFoundByBenchTimeAndNumber(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits, Zone: dublin})
	for id := range int64(20) {
		f := aFlood(id + 1)
		f.Bench = int(id % 2)
		l.Record([]controller.Event{floodEvent(controller.FloodEnded, f, noon(1))}, nil)
	}
	for name, c := range map[string]struct {
		q    Query
		want []int64
	}{
		"the newest":            {Query{Limit: 3}, []int64{18, 19, 20}},
		"of a bench":            {Query{Bench: "south", Limit: 2}, []int64{18, 20}},
		"since":                 {Query{Since: noon(18).Wall}, []int64{18, 19, 20}},
		"since, of a bench":     {Query{Since: noon(18).Wall, Bench: "north"}, []int64{19}},
		"an unknown bench":      {Query{Bench: "west"}, nil},
		"since, and the newest": {Query{Since: noon(3).Wall, Limit: 1}, []int64{20}},
	} {
		for _, where := range []string{"in memory", "on storage"} {
			t.Run(name+" "+where, func(t *testing.T) {
				if where == "on storage" {
					require.NoError(t, l.Flush(t.Context()))
				}
				rows, err := l.Floods(t.Context(), c.q)
				require.NoError(t, err)
				var ids []int64
				for _, r := range rows {
					ids = append(ids, r.ID)
				}
				assert.Equal(t, c.want, ids)
			})
		}
	}
}

func TestAFloodIsReadAsItWasRecorded(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits, Zone: dublin})
	f := aFlood(3)
	f.Slot, f.Attempt, f.Unrecorded, f.Watched = schedule.CivilOf(2026, 7, 3, 12, 0, 30), 1, true, true
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, f, noon(3))}, nil)
	require.NoError(t, l.Flush(t.Context()))
	found, err := l.floods(t.Context(), Query{})
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, flood{f, "north"}, found[0])
}

func TestDaysSumTheLedgerUp(t *testing.T) {
	t.Parallel()
	l := filled(t)
	days, err := l.Days(t.Context(), Query{})
	require.NoError(t, err)
	assert.Equal(t, []Day{
		{Date: "2026-07-01", Floods: map[controller.Outcome]int{controller.Proven: 1}, Litres: 189.8, RunS: map[string]float64{}},
		{Date: "2026-07-02", Floods: map[controller.Outcome]int{controller.Unproven: 1}, Litres: 66.6, RunS: map[string]float64{}},
		{Date: "2026-07-04", Floods: map[controller.Outcome]int{}, RunS: map[string]float64{"pump": 1.5}},
	}, days)
	days, err = l.Days(t.Context(), Query{Since: noon(2).Wall})
	require.NoError(t, err)
	assert.Len(t, days, 2)
}

func TestTripsAndResetsTellWhatWasFound(t *testing.T) {
	t.Parallel()
	trips, err := filled(t).Trips(t.Context(), Query{Bench: "north"})
	require.NoError(t, err)
	require.Len(t, trips, 3)
	assert.Equal(t, Trip{At: trips[2].At, Bench: "north", Interlock: "drain-window", Act: "reset", Detail: "leaf in the standpipe", Times: 1, Last: trips[2].At}, trips[2])
	assert.True(t, trips[0].Latched)
}

func TestDiaryIsInTheOrderOfWhatItTellsOf(t *testing.T) {
	t.Parallel()
	diary, err := filled(t).Diary(t.Context(), Query{})
	require.NoError(t, err)
	require.Len(t, diary, 2)
	assert.Equal(t, Note, diary[0].Kind)
	assert.Equal(t, 40.5, *diary[1].Value)
}

func TestAnEntryThatMakesNoSenseIsNotTaken(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{})
	value := 6.1
	for says, e := range map[string]Entry{
		`"pruning" is no kind of entry; there are baseline, cleaning, ec, `: Diary{Kind: "pruning"},
		"top-up needs a value in L":                                         Diary{Kind: TopUp},
		"cleaning takes no value; write it in words":                        Diary{Kind: Cleaning, Value: &value},
		`record the calibration of "north": its data is no JSON`:            Commissioning{What: "calibration", Place: "north"},
	} {
		require.ErrorContains(t, l.Add(t.Context(), e), says)
	}
	require.NoError(t, l.Add(t.Context(), Diary{Kind: PH, Value: &value}))
	require.NoError(t, l.Add(t.Context(), Diary{Kind: SolutionChange}))
}

func TestSanitisingStandsAmongThePausesAndStagesAndLastDaysTogether(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits, Zone: dublin})
	l.Record([]controller.Event{
		{Kind: controller.SanitisingBegan, At: noon(1), Bench: 1, Output: -1, Text: "sanitising by Kim"},
		{Kind: controller.SanitisingEnded, At: noon(2), Bench: 1, Output: -1, Text: "rinsed, confirmed by Kim"},
		{Kind: controller.StageBegan, At: noon(2), Bench: 1, Output: -1, Batch: "basil", Stage: 2, Text: "from day 24"},
		{Kind: controller.BatchClosed, At: noon(3), Bench: 1, Output: -1, Batch: "basil", Stage: -1, Text: "closed"},
	}, nil)
	require.NoError(t, l.Flush(t.Context()))
	pauses, err := list(t.Context(), l, &pauses, Query{Bench: "south"})
	require.NoError(t, err)
	require.Len(t, pauses, 2)
	assert.Equal(t, Pause{At: pauses[0].At, Bench: "south", Began: true, Text: "sanitising by Kim"}, pauses[0])
	assert.False(t, pauses[1].Began)
	stages, err := l.Stages(t.Context(), Query{Bench: "basil"})
	require.NoError(t, err)
	require.Len(t, stages, 2)
	assert.Equal(t, Stage{At: stages[0].At, Batch: "basil", Stage: 2, Text: "from day 24"}, stages[0])
	assert.Equal(t, -1, stages[1].Stage)
}

func TestExportsAreWhatTheyWere(t *testing.T) {
	t.Parallel()
	l := filled(t)
	for _, f := range []Format{CSV, Lines} {
		var out bytes.Buffer
		for _, table := range Tables() {
			out.WriteString("== " + table + "\n")
			require.NoError(t, l.Export(t.Context(), &out, table, f, Query{}))
		}
		golden := filepath.Join("testdata", "export."+string(f))
		if *update {
			require.NoError(t, os.WriteFile(golden, out.Bytes(), 0o600))
		}
		want, err := os.ReadFile(golden)
		require.NoError(t, err)
		assert.Equal(t, string(want), out.String())
	}
}

func TestAnExportOfNothingHasItsHeader(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{})
	var out strings.Builder
	require.NoError(t, l.Export(t.Context(), &out, "stages", CSV, Query{}))
	assert.Equal(t, "at,batch,stage,text\n", out.String())
}

func TestWrongExportsSayWhatIsRight(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{})
	require.ErrorContains(t, l.Export(t.Context(), nil, "fluds", CSV, Query{}), `export "fluds": no such table; there are commissioning, diary, events, floods,`)
	require.ErrorContains(t, l.Export(t.Context(), nil, "floods", "xml", Query{}), `export as "xml": the formats are csv and jsonl`)
}

func TestABackupTakenWhileRunningIsALedger(t *testing.T) {
	t.Parallel()
	l := filled(t)
	dir := t.TempDir()
	path := filepath.Join(dir, fileName)
	require.NoError(t, l.Backup(t.Context(), path))
	require.ErrorContains(t, l.Backup(t.Context(), path), "the file exists")
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(3), noon(3))}, nil)
	require.NoError(t, l.Flush(t.Context()), "and the ledger goes on")

	copied, r := open(t, dir, Options{Limits: limits, Zone: dublin})
	assert.Equal(t, aCheckpoint().Guard, r.Checkpoint.Guard)
	rows, err := copied.Floods(t.Context(), Query{})
	require.NoError(t, err)
	assert.Len(t, rows, 2)
	left, err := filepath.Glob(filepath.Join(dir, "*.part*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// Rows that call a skip refused by hand are kept as they were written, and show
// what the word is now.
func TestASkipOnRecordShowsAsSkipped(t *testing.T) {
	l, _ := open(t, t.TempDir(), Options{Limits: limits, Zone: dublin})
	for i, reason := range []string{"skipped by hand", "stopped by hand before it began", "paused: until noon"} {
		f := aFlood(int64(i + 1))
		f.Outcome, f.Reason = controller.Refused, reason
		l.Record([]controller.Event{floodEvent(controller.FloodEnded, f, noon(1))}, aCheckpoint())
	}
	require.NoError(t, l.Flush(t.Context()))
	rows, err := l.Floods(t.Context(), Query{})
	require.NoError(t, err)
	var outcomes []controller.Outcome
	for _, r := range rows {
		outcomes = append(outcomes, r.Outcome)
	}
	assert.Equal(t, []controller.Outcome{controller.Skipped, controller.Skipped, controller.Refused}, outcomes)
	days, err := l.Days(t.Context(), Query{})
	require.NoError(t, err)
	skipped := 0
	for _, d := range days {
		skipped += d.Floods[controller.Skipped]
	}
	assert.Equal(t, 2, skipped)
}

func TestOfAFloodInMemoryTheNewestStateIsShown(t *testing.T) {
	t.Parallel()
	state := func(o controller.Outcome) map[int64]flood {
		f := aFlood(7)
		f.Outcome = o
		return map[int64]flood{7: {Flood: f, bench: "north"}}
	}
	l := &Ledger{going: &batch{floods: state(controller.Unproven)}, next: batch{floods: state(controller.Proven)}}
	assert.Equal(t, controller.Proven, l.inMemory(Query{})[7].Outcome, "what comes after what is being written")
}

func TestAFloodIsReadAsItWasLastWritten(t *testing.T) {
	t.Parallel()
	l, _ := open(t, t.TempDir(), Options{Limits: limits, Zone: dublin})
	last := aFlood(1)
	first := intended(last)
	first.Intended, first.Cause, first.Hold, first.Strength = true, controller.ByHand, time.Minute, 1
	for _, f := range []controller.Flood{first, last, first} {
		l.Record([]controller.Event{floodEvent(controller.FloodEnded, f, noon(1))}, nil)
		require.NoError(t, l.Flush(t.Context()))
		read, err := l.floods(t.Context(), Query{})
		require.NoError(t, err)
		require.Len(t, read, 1)
		assert.Equal(t, f.Intended, read[0].Intended)
		assert.Equal(t, controller.RowOf(f, []string{"north"}, dublin), read[0].shown(dublin))
	}
}
