package ledger

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// both damages another part of each witness, or the same.
func both(t testing.TB, d *stateDir, random *rand.Rand) *harness {
	h := &harness{t: t}
	parts := []string{headPart, benchPart + d.o.Limits.Benches[0].Name, commissioningPart}
	for _, inLedger := range parts {
		for _, inCopy := range parts {
			files := d.clone()
			files[fileName] = spoilPart(t, files[fileName], inLedger)
			lines := bytes.SplitAfter(files[witnessName], []byte("\n"))
			for _, line := range lines {
				if bytes.HasPrefix(line, fmt.Appendf(nil, `{"part":%q`, inCopy)) {
					line[len(line)/2+random.IntN(len(line)/2-1)] ^= byte(1 + random.IntN(127))
				}
			}
			files[witnessName] = bytes.Join(lines, nil)
			h.try(d, fmt.Sprintf("%s of the ledger and %s of the copy", inLedger, inCopy), files)
		}
	}
	h.report("a part of each")
	return h
}

// spoilPart damages what a ledger holds under the name of a part of the copy.
func spoilPart(t testing.TB, ledger []byte, part string) []byte {
	path := filepath.Join(t.TempDir(), fileName)
	require.NoError(t, os.WriteFile(path, ledger, 0o600))
	db, err := connect(path, writing)
	require.NoError(t, err)
	if part == commissioningPart {
		_, err = db.Exec("UPDATE commissioning SET data = '{}' WHERE id = (SELECT max(id) FROM commissioning)")
	} else {
		_, err = db.Exec("UPDATE checkpoint SET data = x'00010203' WHERE part = ?", part)
	}
	require.NoError(t, err)
	require.NoError(t, db.Close())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}

// swapped exchanges files and parts, doubles them and refills them.
func swapped(t testing.TB, d *stateDir) *harness {
	h := &harness{t: t}
	try := func(what string, change func(files map[string][]byte)) {
		files := d.clone()
		change(files)
		h.try(d, what, files)
	}
	try("the two files in each other's place", func(f map[string][]byte) { f[fileName], f[witnessName] = f[witnessName], f[fileName] })
	for _, names := range [][]string{{fileName}, {witnessName}, {fileName, witnessName}} {
		for what, fill := range map[string]func(n int) []byte{
			"refilled with zeros": func(n int) []byte { return make([]byte, n) },
			"one zero":            func(int) []byte { return make([]byte, 1) },
			"empty":               func(int) []byte { return nil },
		} {
			try(fmt.Sprint(names, what), func(f map[string][]byte) {
				for _, name := range names {
					f[name] = fill(len(f[name]))
				}
			})
		}
	}
	lines := bytes.SplitAfter(d.files[witnessName], []byte("\n"))
	for i := range lines {
		for k := range lines {
			try(fmt.Sprintf("line %d of the copy again after line %d", i, k), func(f map[string][]byte) {
				f[witnessName] = bytes.Join(slices.Insert(slices.Clone(lines), k, lines[i]), nil)
			})
			try(fmt.Sprintf("line %d of the copy in place of line %d", i, k), func(f map[string][]byte) {
				all := slices.Clone(lines)
				all[k] = lines[i]
				f[witnessName] = bytes.Join(all, nil)
			})
		}
	}
	h.report("exchanged, doubled and refilled")
	return h
}

// wrongBeside puts wrong files beside the ledger, and takes right ones away.
func wrongBeside(t testing.TB, d *stateDir) *harness {
	h := &harness{t: t}
	hot, other := hotDir(t, d), latchedDir(t, "Quarry Lane", false)
	foreign := hotDir(t, other)
	for _, base := range []map[string][]byte{d.files, hot} {
		for _, name := range []string{"-wal", "-journal", "-shm"} {
			for what, data := range map[string][]byte{
				"gone": nil, "empty": {}, "zeros": make([]byte, 4096), "of another ledger": foreign[fileName+"-wal"],
				"another ledger": other.files[fileName], "a hot journal": journalOf(other.files[fileName]),
			} {
				for _, withCopy := range []bool{true, false} {
					files := maps.Clone(base)
					if files[fileName+name] = data; data == nil {
						delete(files, fileName+name)
					}
					if !withCopy {
						delete(files, witnessName)
					}
					h.try(d, fmt.Sprintf("%s %s, with the copy %v, hot %v", name, what, withCopy, base[fileName+"-wal"] != nil), files)
				}
			}
		}
	}
	h.report("files beside the ledger wrong or gone")
	return h
}

// hotDir is the directory of d as a program that died leaves it: what it recorded
// last stands in the log alone.
func hotDir(t testing.TB, d *stateDir) map[string][]byte {
	dir, left := t.TempDir(), t.TempDir()
	for name, data := range d.files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	l, r := open(t, dir, d.o)
	require.NotNil(t, r.Checkpoint)
	l.Record([]controller.Event{switchEvent(noon(3))}, r.Checkpoint)
	require.NoError(t, l.Flush(t.Context()))
	copyDir(t, dir, left)
	require.NoError(t, l.Close())
	files := map[string][]byte{SettingsName: d.files[SettingsName], witnessName: d.files[witnessName]}
	for _, name := range []string{fileName, fileName + "-wal"} {
		data, err := os.ReadFile(filepath.Join(left, name))
		require.NoError(t, err)
		files[name] = data
	}
	require.NotEmpty(t, files[fileName+"-wal"])
	return files
}

// journalOf is a rollback journal that would put a file in the place of another.
func journalOf(data []byte) []byte {
	return append([]byte{0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7, 0, 0, 0, 1}, data...)
}

func TestAnOlderWitnessBesideANewerOne(t *testing.T) {
	t.Parallel()
	d := latchedDir(t, "Quarry Lane", true)
	unlatched, latched, reset := inTime(t, d)
	for name, c := range map[string]struct {
		ledger, copied map[string][]byte
		latched        bool
	}{
		"latched since, says the copy":   {unlatched, latched, true},
		"latched since, says the ledger": {latched, unlatched, true},
		"reset since, says the copy":     {latched, reset, false},
		"reset since, says the ledger":   {reset, latched, false},
		"the copy is two behind":         {reset, unlatched, false},
		"the ledger is two behind":       {unlatched, reset, false},
	} {
		t.Run(name, func(t *testing.T) {
			out := d.start(t, map[string][]byte{fileName: c.ledger[fileName], witnessName: c.copied[witnessName], SettingsName: []byte("x\n")})
			assert.False(t, out.refused)
			assert.Equal(t, c.latched, out.latched)
		})
	}
}

// inTime are the files of one record: before a latch, with it, and after it was
// reset.
func inTime(t *testing.T, d *stateDir) (unlatched, latched, reset map[string][]byte) {
	dir, bench := t.TempDir(), d.o.Limits.Benches[0].Name
	stage := func(kind safety.EventKind, s safety.BenchState) map[string][]byte {
		s.Pump, s.Enable = "GPIO5", "GPIO22"
		cp := aCheckpoint()
		cp.Controller.Benches = map[string]controller.BenchState{bench: {}}
		cp.Controller.Crops = nil
		cp.Guard.Benches = map[string]safety.BenchState{bench: s}
		l, _, err := Open(dir, d.o)
		require.NoError(t, err)
		l.Record([]controller.Event{{Kind: controller.GuardActed, At: noon(2), Bench: 0, Guard: safety.Event{Kind: kind, Bench: 0, Interlock: safety.DrainWindow, Latched: kind == safety.LatchedEvent}}}, cp)
		require.NoError(t, l.Close())
		files := map[string][]byte{}
		for _, name := range []string{fileName, witnessName} {
			data, err := os.ReadFile(filepath.Join(dir, name))
			require.NoError(t, err)
			files[name] = data
		}
		return files
	}
	trip := []safety.Trip{{Interlock: safety.DrainWindow, At: time.Hour, Latched: true}}
	return stage(safety.SwitchChanged, safety.BenchState{}), stage(safety.LatchedEvent, safety.BenchState{Latched: trip}), stage(safety.ResetEvent, safety.BenchState{Resets: 1})
}
