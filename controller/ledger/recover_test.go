package ledger

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

func aCheckpoint(open ...controller.Flood) *loop.Checkpoint {
	now := noon(1)
	return &loop.Checkpoint{
		Controller: controller.State{
			Boot: "boot", Mono: now.Mono, Wall: now.Wall, Trusted: true, Known: now.Wall, NextID: 8,
			Benches: map[string]controller.BenchState{"north": {HasSlot: true, Cursor: 1_782_000_000, PauseBy: "a person"}, "south": {}},
			Crops:   map[string]controller.CropState{"basil": {Since: time.Hour, Level: 2}},
			Open:    open,
		},
		Guard: safety.State{
			Boot: "boot", Mono: now.Mono, Wall: now.Wall, Trusted: true, Starts: []time.Duration{time.Minute},
			Benches: map[string]safety.BenchState{
				"north": {Latched: []safety.Trip{{Interlock: safety.DrainWindow, At: time.Hour, Latched: true, Detail: "leaf"}}, Runs: []safety.Span{{Start: 1, Stop: 2}}},
				"south": {},
			},
		},
	}
}

// kept stores cp and events in a new directory and returns it closed.
func kept(t *testing.T, cp *loop.Checkpoint, events ...controller.Event) string {
	dir := t.TempDir()
	l, r := open(t, dir, Options{Limits: limits, Zone: dublin})
	require.Nil(t, r.Checkpoint, "a new ledger knows nothing")
	l.Record(events, cp)
	require.NoError(t, l.Close())
	return dir
}

func TestTheNewestCheckpointComesBackWhole(t *testing.T) {
	t.Parallel()
	cp := aCheckpoint()
	_, r := open(t, kept(t, cp), Options{Limits: limits})
	assert.Equal(t, cp, r.Checkpoint)
}

func TestOpenFloodsAreThoseOfTheRowsWhichMayBeNewer(t *testing.T) {
	t.Parallel()
	first, second := intended(aFlood(5)), intended(aFlood(6))
	started := first
	started.Started = first.Due
	ended := second
	ended.Outcome, ended.Ended = controller.Missed, second.Due
	queued := intended(aFlood(7)) // has no row yet
	started.Intended = true
	dir := kept(t, aCheckpoint(first, second, queued),
		floodEvent(controller.PumpStarted, started, noon(5)), floodEvent(controller.FloodEnded, ended, noon(6)))

	_, r := open(t, dir, Options{Limits: limits})
	assert.Equal(t, []controller.Flood{started, queued}, r.Checkpoint.Controller.Open)
}

func TestAFloodNumberIsNeverGivenTwice(t *testing.T) {
	t.Parallel()
	dir := kept(t, aCheckpoint(), floodEvent(controller.FloodEnded, aFlood(40), noon(1)))
	_, r := open(t, dir, Options{Limits: limits})
	assert.EqualValues(t, 41, r.Checkpoint.Controller.NextID)
}

func TestBenchesGoByNameAndTheFloodOfOneThatIsGoneIsSettled(t *testing.T) {
	t.Parallel()
	north, south := intended(aFlood(5)), intended(aFlood(6))
	south.Bench = 1
	south.Started = south.Due
	queued := intended(aFlood(7))
	dir := kept(t, aCheckpoint(north, queued, south), floodEvent(controller.FloodIntended, north, noon(5)), floodEvent(controller.PumpStarted, south, noon(5)))

	only := limits
	only.Benches = []safety.BenchLimits{{Name: "east"}, {Name: "west"}, {Name: "south"}}
	l, r := open(t, dir, Options{Limits: only, Zone: dublin})
	south.Bench = 2
	assert.Equal(t, []controller.Flood{south}, r.Checkpoint.Controller.Open)
	require.NoError(t, l.Flush(t.Context()))
	rows, err := l.Floods(t.Context(), Query{Bench: "north"})
	require.NoError(t, err)
	require.Len(t, rows, 2)
	for _, row := range rows {
		assert.Equal(t, controller.Missed, row.Outcome)
		assert.Equal(t, `bench "north" is no longer in the file`, row.Reason)
	}
}

func TestADamagedFileIsSetAsideAndTheBenchGoesOn(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(t *testing.T, path string){
		"empty":         resize(0),
		"cut in a page": resize(1500),
		"half":          resize(10 * 1024),
		"not a ledger":  overwrite(0, "this is a letter to my aunt, and no database"),
		"page of floods": func(t *testing.T, path string) {
			overwrite(1024*(rootOf(t, path, "floods")-1), "\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00")(t, path)
		},
		"gone but for its log": func(t *testing.T, path string) {
			require.NoError(t, os.Rename(path, path+"-wal"))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := kept(t, aCheckpoint(), floodEvent(controller.FloodEnded, aFlood(1), noon(1)))
			path := filepath.Join(dir, fileName)
			spoil(t, path)
			spoilt := contents(t, dir)

			l, r := open(t, dir, Options{Limits: limits})
			require.NoError(t, r.Trouble)
			require.Error(t, r.Damage)
			require.Contains(t, filepath.Base(r.SetAside), "ledger-damaged-2")
			assert.Contains(t, contents(t, dir), spoilt[0], "the damaged file is kept as it was")
			assert.Equal(t, aCheckpoint().Guard, r.Checkpoint.Guard, "the copy has it")
			assert.Equal(t, r.SetAside, l.Stats().SetAside)

			l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(2), noon(2))}, nil)
			require.NoError(t, l.Close())
			again, r := open(t, dir, Options{Limits: limits})
			assert.Empty(t, r.SetAside)
			assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1, "a latched trip outlives the damage")
			rows, err := again.Floods(t.Context(), Query{})
			require.NoError(t, err)
			assert.Len(t, rows, 1)
		})
	}
}

// What is saved from a damaged record is on storage before the program begins: the
// next damage, or a death a moment later, finds both files whole again, each by
// itself.
func TestWhatIsSavedFromADamagedRecordIsWrittenAtOnce(t *testing.T) {
	t.Parallel()
	part := func(what string) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			altered(t, dir, "UPDATE checkpoint SET data = substr(data, 1, length(data) - 3) WHERE part = '"+what+"'")
		}
	}
	file := func(name string, spoil func(*testing.T, string)) func(*testing.T, string) {
		return func(t *testing.T, dir string) { spoil(t, filepath.Join(dir, name)) }
	}
	gone := func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) }
	for name, spoil := range map[string]func(t *testing.T, dir string){
		"nothing":               func(*testing.T, string) {},
		"the ledger cut":        file(fileName, resize(10*1024)),
		"the ledger empty":      file(fileName, resize(0)),
		"the ledger gone":       file(fileName, gone),
		"the ledger's head":     part(headPart),
		"a bench of the ledger": part(benchPart + "north"),
		"the copy cut":          file(witnessName, resize(100)),
		"the copy empty":        file(witnessName, resize(0)),
		"the copy gone":         file(witnessName, gone),
		"a letter of the copy":  file(witnessName, overwrite(90, "#")),
		"commissioning": func(t *testing.T, dir string) {
			altered(t, dir, "UPDATE commissioning SET place = 'south'")
		},
		"a bench of each": func(t *testing.T, dir string) {
			part(benchPart+"south")(t, dir)
			resize(100)(t, filepath.Join(dir, witnessName))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			l, _ := open(t, dir, Options{Limits: limits})
			l.Record(nil, aCheckpoint())
			require.NoError(t, l.Add(t.Context(), Commissioning{At: When{noon(1).Wall}, What: "passed", Place: "north", Fingerprint: "abc", Data: []byte(`{}`)}))
			require.NoError(t, l.Close())
			spoil(t, dir)

			l, r := open(t, dir, Options{Limits: limits})
			require.NoError(t, r.Trouble)
			require.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
			for alone, other := range map[string]string{fileName: witnessName, witnessName: fileName} {
				after := t.TempDir()
				copyDir(t, dir, after)
				data, err := os.ReadFile(filepath.Join(dir, witnessName))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(filepath.Join(after, witnessName), data, 0o640))
				for _, end := range []string{"", "-wal", "-journal"} {
					_ = os.Remove(filepath.Join(after, other+end))
				}
				_, s := open(t, after, Options{Limits: limits})
				require.NotNil(t, s.Checkpoint, alone)
				assert.Equal(t, r.Checkpoint.Guard, s.Checkpoint.Guard, "%s alone", alone)
				assert.Len(t, s.Commissioned, len(r.Commissioned), "%s alone", alone)
			}
			require.NoError(t, l.Close())
		})
	}
}

// altered changes a ledger that is not open.
func altered(t *testing.T, dir, how string) {
	db, err := connect(filepath.Join(dir, fileName), writing)
	require.NoError(t, err)
	_, err = db.Exec(how)
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

func resize(n int64) func(*testing.T, string) {
	return func(t *testing.T, path string) { require.NoError(t, os.Truncate(path, n)) }
}

func overwrite(at int64, text string) func(*testing.T, string) {
	return func(t *testing.T, path string) {
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		require.NoError(t, err)
		_, err = f.WriteAt([]byte(text), at)
		require.NoError(t, err)
		require.NoError(t, f.Close())
	}
}

func rootOf(t *testing.T, path, table string) (page int64) {
	db, err := connect(path, reading)
	require.NoError(t, err)
	defer func() { _ = db.Close() }()
	require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_master WHERE name = ?", table).Scan(&page))
	return page
}

// contents lists what is in the files of dir.
func contents(t *testing.T, dir string) []string {
	var all []string
	names, err := filepath.Glob(filepath.Join(dir, "*.db*"))
	require.NoError(t, err)
	for _, name := range names {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		all = append(all, string(data))
	}
	return all
}

// madeNewer makes of a ledger one that a newer program wrote.
func madeNewer(t *testing.T, dir string) {
	db, err := connect(filepath.Join(dir, fileName), writing)
	require.NoError(t, err)
	_, err = db.Exec("PRAGMA user_version = 99")
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

func TestAFileOfANewerVersionIsNotTouchedAndTheCopyIsGoneOnFrom(t *testing.T) {
	t.Parallel()
	for name, leave := range map[string]func(dir string){
		"with the copy": func(string) {},
		"without":       func(dir string) { require.NoError(t, os.Remove(filepath.Join(dir, witnessName))) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := kept(t, aCheckpoint())
			madeNewer(t, dir)
			leave(dir)
			before := contents(t, dir)
			l, r := open(t, dir, Options{Limits: limits})
			require.ErrorContains(t, r.Trouble, "version 99: written by a newer version of the program")
			if name == "without" {
				assert.Len(t, r.Checkpoint.Guard.Lost, len(limits.Benches), "nobody knows what was latched")
			} else {
				assert.Empty(t, r.Checkpoint.Guard.Lost)
				assert.Len(t, r.Checkpoint.Guard.Benches["north"].Latched, 1)
			}
			l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(8), noon(8))}, r.Checkpoint)
			require.ErrorContains(t, l.Close(), "newer version")
			assert.Equal(t, before, contents(t, dir))
		})
	}
}

func TestASecondProgramOnOneDirectoryIsRefused(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, _ := open(t, dir, Options{})
	_, _, err := Open(dir, Options{})
	require.ErrorContains(t, err, "another benchtide is running on")
	require.NoError(t, l.Close())
	open(t, dir, Options{})
}

func TestADirectoryThatIsMissingIsMadeForOneself(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "state", "benchtide")
	open(t, dir, Options{})
	info, err := os.Stat(dir)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o750), info.Mode().Perm())
}

func TestAStateDirectoryThatIsAFileIsRefused(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "state")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	_, _, err := Open(path, Options{})
	require.ErrorContains(t, err, "make the state directory")
}
