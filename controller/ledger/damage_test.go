package ledger

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// What damage is tried: a sample, or with -damage 1 each byte of both files and
// so many random damages.
var (
	damageEvery  = flag.Int("damage", 997, "change each n-th byte of the ledger and its copy in turn; 1 means every one")
	damageRandom = flag.Int("damages", 30, "how many random damages of either file or both are tried")
	damageSeed   = flag.Uint64("damage-seed", 1, "of the random damages")
)

// thorough reports whether every damage is tried, not a sample.
func thorough() bool { return *damageEvery == 1 }

// stateDir is a small state directory, as bytes, whose first bench is latched.
type stateDir struct {
	name  string
	files map[string][]byte
	o     Options
	setup controller.Setup
	was   string // what is read of it undamaged
}

// names of the files, in one order.
func (d *stateDir) names() (all []string) {
	for name := range d.files {
		all = append(all, name)
	}
	slices.Sort(all)
	return all
}

// clone is a copy of the files, ready to be damaged.
func (d *stateDir) clone() map[string][]byte {
	c := make(map[string][]byte)
	for name, data := range d.files {
		c[name] = slices.Clone(data)
	}
	return c
}

// outcome is what came of a start on a damaged directory.
type outcome struct {
	refused bool // the program does not start on it and says so
	latched bool
	told    bool
	read    string
}

// start is the way of a program from its files to its guard and controller.
func (d *stateDir) start(t testing.TB, files map[string][]byte) (out outcome) {
	dir, err := os.MkdirTemp("", "damage")
	require.NoError(t, err)
	defer func() { _ = os.RemoveAll(dir) }()
	for name, data := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	l, r, err := Open(dir, d.o)
	if err != nil {
		return outcome{refused: true}
	}
	defer func() { _ = l.Close() }()
	now := noon(9)
	cp := r.Checkpoint
	if cp == nil {
		cp = &loop.Checkpoint{}
	} else if len(d.setup.Limits.Benches) > 0 {
		_, err := controller.Resume(d.setup, now, cp.Controller, "later")
		require.NoError(t, err)
	}
	g := safety.New(d.o.Limits, cp.Guard, now, "later")
	s := g.State()
	out.latched = len(s.Benches[d.o.Limits.Benches[0].Name].Latched) > 0
	out.told = len(r.Found) > 0 || r.SetAside != "" || r.Trouble != nil
	trips, err := l.Trips(t.Context(), Query{})
	text, jsonErr := json.Marshal([]any{cp.Guard, ordersIn(cp), trips, fmt.Sprint(err), len(r.Commissioned), r.Commissioned})
	require.NoError(t, jsonErr)
	out.read = string(text)
	return out
}

func ordersIn(cp *loop.Checkpoint) map[string]controller.BenchState {
	orders := map[string]controller.BenchState{}
	for name, s := range cp.Controller.Benches {
		orders[name] = ordersOf(s)
	}
	return orders
}

// harness counts what came of damaged directories.
type harness struct {
	t                     testing.TB
	tried, lost, unspoken int
	refused, changed      int
	first                 []string
}

// try starts on damaged files. None is the one directory that may come up
// without its latch: that of a new record.
func (h *harness) try(d *stateDir, what string, files map[string][]byte) {
	out := d.start(h.t, files)
	h.tried++
	if out.refused {
		h.refused++
		return
	}
	note := func(kind string) {
		if len(h.first) < 10 {
			h.first = append(h.first, fmt.Sprintf("%s, %s: %s", d.name, what, kind))
		}
	}
	if !out.latched {
		h.lost++
		note("the latch is lost")
	}
	if out.read != d.was {
		if h.changed++; !out.told {
			h.unspoken++
			note("what is read changed without a word")
		}
	}
}

func (h *harness) report(what string) {
	h.t.Logf("%s: states damaged %d, latches lost %d, silent changes %d (read otherwise and told %d, not started on %d)",
		what, h.tried, h.lost, h.unspoken, h.changed-h.unspoken, h.refused)
}

// latchedDir is a state directory of the example site after a flood, with a
// latch and with what commissioning found.
func latchedDir(t testing.TB, site string, latched bool) *stateDir {
	file := exampleSite(t)
	setup, err := rehearse.Setup(file)
	require.NoError(t, err)
	d := &stateDir{name: "the example", setup: setup, o: Options{Limits: setup.Limits, Zone: file.Zone, Site: site}}
	dir := t.TempDir()
	l, r := open(t, dir, d.o)
	require.Nil(t, r.Checkpoint)
	bench := setup.Limits.Benches[0].Name
	cp := aCheckpoint()
	cp.Controller.Benches = map[string]controller.BenchState{bench: {PauseBy: "a person", Cursor: 1_782_000_000, HasSlot: true}}
	cp.Controller.Crops = nil
	state := safety.BenchState{Pump: "GPIO5", Enable: "GPIO22", Runs: []safety.Span{{Start: 1, Stop: 2}}, Resets: 3}
	cp.Guard.Benches = map[string]safety.BenchState{bench: state}
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, cp)
	require.NoError(t, l.Flush(t.Context()))
	for n := range 5 {
		data, _ := json.Marshal(map[string]any{"step": n, "answers": []string{"yes", "no"}})
		require.NoError(t, l.Add(t.Context(), Commissioning{At: When{noon(n + 1).Wall}, What: "passed", Place: bench, Fingerprint: "abc", Data: data}))
	}
	if latched {
		next := *cp
		state.Latched = []safety.Trip{{Interlock: safety.DrainWindow, At: time.Hour, Latched: true, Detail: "a leaf"}}
		next.Guard.Benches = map[string]safety.BenchState{bench: state}
		trip := safety.Event{Kind: safety.Tripped, Bench: 0, Interlock: safety.DrainWindow, Latched: true, Detail: "a leaf"}
		latch := trip
		latch.Kind = safety.LatchedEvent
		l.Record([]controller.Event{
			{Kind: controller.GuardActed, At: noon(2), Bench: 0, Guard: trip}, {Kind: controller.GuardActed, At: noon(2), Bench: 0, Guard: latch},
		}, &next)
	}
	require.NoError(t, l.Close())
	d.read(t, dir)
	d.files[SettingsName] = []byte("the version in force\n")
	d.settle(t)
	return d
}

// read takes the files of dir.
func (d *stateDir) read(t testing.TB, dir string) {
	d.files = make(map[string][]byte)
	for _, name := range []string{fileName, witnessName} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		d.files[name] = data
	}
}

// settle notes what is read of the directory while it is whole.
func (d *stateDir) settle(t testing.TB) {
	out := d.start(t, d.files)
	require.False(t, out.refused)
	require.False(t, out.told, "nobody is told of a whole record")
	d.was = out.read
}

// oldDir is the directory of a program from before checksums and copies.
func oldDir(t testing.TB) *stateDir {
	data, err := os.ReadFile(keptFile(sumsSince - 1))
	require.NoError(t, err)
	d := &stateDir{name: "an older version", o: Options{Limits: limits, Zone: dublin}}
	d.files = map[string][]byte{fileName: data, SettingsName: []byte("the version in force\n")}
	d.settle(t)
	return d
}

func TestNoDamageOfTheRecordLosesALatch(t *testing.T) {
	t.Parallel()
	d := latchedDir(t, "Quarry Lane", true)
	random := rand.New(rand.NewPCG(*damageSeed, 0))
	h := &harness{t: t}
	for _, name := range []string{fileName, witnessName} {
		for at := random.IntN(*damageEvery); at < len(d.files[name]); at += *damageEvery {
			files := d.clone()
			files[name][at] ^= byte(1 + random.IntN(255))
			h.try(d, fmt.Sprintf("byte %d of %s", at, name), files)
		}
	}
	h.report("each byte in turn")

	cut := &harness{t: t}
	for _, name := range []string{fileName, witnessName} {
		step := 1024
		if name == witnessName {
			step = 100
		}
		for to := 0; to < len(d.files[name]); to += step {
			for _, n := range []int{to, to + step/2} {
				if !thorough() && n > 0 && random.IntN(4) > 0 {
					continue
				}
				files := d.clone()
				files[name] = files[name][:min(n, len(files[name])-1)]
				cut.try(d, fmt.Sprintf("%s cut to %d bytes", name, n), files)
			}
		}
	}
	cut.report("each page cut")

	wild := &harness{t: t}
	for n := range *damageRandom {
		files := d.clone()
		what := fmt.Sprintf("seed %d, damage %d", *damageSeed, n)
		for _, name := range []string{fileName, witnessName} {
			if n%3 == 2 || (n%3 == 0) == (name == fileName) {
				what += ", " + ruin(random, files, name)
			}
		}
		wild.try(d, what, files)
	}
	wild.report("random damage to either or both")

	gone := &harness{t: t}
	names := d.names()
	for missing := 1; missing < 1<<len(names)-1; missing++ { // without any file the record is new
		files, what := d.clone(), "without"
		for i, name := range names {
			if missing&(1<<i) != 0 {
				delete(files, name)
				what += " " + name
			}
		}
		gone.try(d, what, files)
	}
	gone.report("files deleted")

	foreign := &harness{t: t}
	for _, other := range []*stateDir{latchedDir(t, "Elsewhere", false), latchedDir(t, "Quarry Lane", false)} {
		for which := range 3 {
			files := d.clone()
			if which != 1 {
				files[fileName] = other.files[fileName]
			}
			if which != 0 {
				files[witnessName] = other.files[witnessName]
			}
			if which == 2 && other.o.Site == d.o.Site {
				continue // the whole record of another place that goes by the same name
			}
			foreign.try(d, fmt.Sprintf("files of %q, %d", other.o.Site, which), files)
		}
	}
	foreign.report("files of another site")

	old := oldDir(t)
	past := &harness{t: t}
	for at := random.IntN(*damageEvery); at < len(old.files[fileName]); at += *damageEvery {
		files := old.clone()
		files[fileName][at] ^= byte(1 + random.IntN(255))
		out := old.start(t, files)
		if past.tried++; !out.refused && !out.latched {
			past.lost++ // a change within it is not found: it had no checksums
		}
	}
	for to := 0; to < len(old.files[fileName]); to += 1024 {
		if !thorough() && to > 0 && random.IntN(2) > 0 {
			continue
		}
		files := old.clone()
		files[fileName] = files[fileName][:to]
		past.try(old, fmt.Sprintf("cut to %d bytes", to), files)
	}
	past.report("an older version's files")

	for _, h := range []*harness{h, cut, wild, gone, foreign, past, both(t, d, random), swapped(t, d), wrongBeside(t, d)} {
		assert.Zero(t, h.lost, h.first)
		assert.Zero(t, h.unspoken, h.first)
		assert.Positive(t, h.tried)
	}
}

// ruin does something to a file that storage does to files.
func ruin(random *rand.Rand, files map[string][]byte, name string) string {
	data := files[name]
	block := func() (from, to int) {
		size := []int{64, 512, 1024, 4096}[random.IntN(4)]
		from = random.IntN(max(1, len(data)/size)) * size
		return from, min(from+size, len(data))
	}
	switch random.IntN(6) {
	case 0:
		n := 1 + random.IntN(8)
		for range n {
			data[random.IntN(len(data))] ^= 1 << random.IntN(8)
		}
		return fmt.Sprintf("%d bits of %s", n, name)
	case 1:
		from, to := block()
		clear(data[from:to])
		return fmt.Sprintf("%s zero from %d to %d", name, from, to)
	case 2:
		from, to := block()
		for i := from; i < to; i++ {
			data[i] = byte(random.IntN(256))
		}
		return fmt.Sprintf("%s noise from %d to %d", name, from, to)
	case 3:
		from, to := block()
		other, _ := block()
		copy(data[from:to], data[other:])
		return fmt.Sprintf("%s at %d again at %d", name, other, from)
	case 4:
		n := random.IntN(len(data))
		files[name] = data[:n]
		return fmt.Sprintf("%s cut to %d", name, n)
	}
	delete(files, name)
	return name + " deleted"
}
