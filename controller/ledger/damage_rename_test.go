package ledger

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// wire is a bench of a file: its name and the lines of its pump and of the enable
// relay, which is its own.
type wire struct{ name, pump, enable string }

// fileOfBenches are the limits that a file with these benches comes to.
func fileOfBenches(wires ...wire) safety.Limits {
	l := safety.Limits{Reservoirs: []safety.ReservoirLimits{{Name: "tank"}}}
	for i, w := range wires {
		l.Outputs = append(l.Outputs,
			safety.OutputLimits{Name: w.pump, Kind: safety.FloodPump, Line: w.pump, Enable: 2*i + 1},
			safety.OutputLimits{Name: w.enable, Kind: safety.Enable, Line: w.enable, Enable: -1})
		l.Benches = append(l.Benches, safety.BenchLimits{Name: w.name, Pump: 2 * i, Fill: 3 * time.Minute, Fall: 2 * time.Minute, Drain: 12 * time.Minute, MaxHold: 10 * time.Minute})
	}
	return l
}

var (
	northBench = wire{"north", "GPIO5", "GPIO22"}
	southBench = wire{"south", "GPIO6", "GPIO23"}
)

// edit is what somebody makes of the file while north is latched, version after
// version, which benches of the last one may be it, and which one surely is not.
type edit struct {
	versions [][]wire
	may      []string
	other    string
}

var edits = map[string]edit{
	"as it was":                            {[][]wire{{northBench, southBench}}, []string{"north"}, "south"},
	"renamed":                              {[][]wire{{{"nord", "GPIO5", "GPIO22"}, southBench}}, []string{"nord"}, "south"},
	"rewired":                              {[][]wire{{{"north", "GPIO7", "GPIO24"}, southBench}}, []string{"north"}, "south"},
	"renamed with its lines":               {[][]wire{{{"nord", "GPIO7", "GPIO24"}, southBench}}, []string{"nord"}, "south"},
	"renamed with its lines, and back":     {[][]wire{{{"nord", "GPIO7", "GPIO24"}, southBench}, {northBench, southBench}}, []string{"north"}, "south"},
	"renamed twice, with its lines":        {[][]wire{{{"nord", "GPIO7", "GPIO24"}, southBench}, {{"noord", "GPIO8", "GPIO25"}, southBench}}, []string{"noord"}, "south"},
	"both renamed with their lines":        {[][]wire{{{"nord", "GPIO7", "GPIO24"}, {"sud", "GPIO8", "GPIO25"}}}, []string{"nord", "sud"}, ""},
	"the two swap their names":             {[][]wire{{{"south", "GPIO5", "GPIO22"}, {"north", "GPIO6", "GPIO23"}}}, []string{"south"}, ""},
	"the two swap their names, and back":   {[][]wire{{{"south", "GPIO5", "GPIO22"}, {"north", "GPIO6", "GPIO23"}}, {northBench, southBench}}, []string{"north"}, ""},
	"the two swap their lines":             {[][]wire{{{"north", "GPIO6", "GPIO23"}, {"south", "GPIO5", "GPIO22"}}}, []string{"south"}, ""},
	"split off into another file":          {[][]wire{{southBench}, {northBench}}, []string{"north"}, ""},
	"split off, renamed":                   {[][]wire{{southBench}, {{"nord", "GPIO5", "GPIO22"}}}, []string{"nord"}, ""},
	"split off into another file and back": {[][]wire{{southBench}, {northBench}, {northBench, southBench}}, []string{"north"}, "south"},
	"taken out and put back":               {[][]wire{{southBench}, {northBench, southBench}}, []string{"north"}, "south"},
	"taken out and put back rewired":       {[][]wire{{southBench}, {{"nord", "GPIO7", "GPIO24"}, southBench}}, []string{"nord"}, "south"},
}

// twoBenches is a state directory whose program had recorded that north is latched
// and then died.
func twoBenches(t testing.TB) map[string][]byte {
	dir := t.TempDir()
	l, r := open(t, dir, Options{Limits: fileOfBenches(northBench, southBench), Site: "Quarry Lane"})
	require.Nil(t, r.Checkpoint)
	cp := &loop.Checkpoint{}
	cp.Guard.Benches = map[string]safety.BenchState{"north": {Pump: "GPIO5", Enable: "GPIO22"}, "south": {Pump: "GPIO6", Enable: "GPIO23"}}
	l.Record([]controller.Event{floodEvent(controller.FloodEnded, aFlood(1), noon(1))}, cp)
	require.NoError(t, l.Flush(t.Context()))
	next := *cp
	next.Guard.Benches = maps.Clone(cp.Guard.Benches)
	next.Guard.Benches["north"] = safety.BenchState{Pump: "GPIO5", Enable: "GPIO22", Latched: []safety.Trip{{Interlock: safety.DrainWindow, Latched: true, Detail: "a leaf"}}}
	latch := safety.Event{Kind: safety.LatchedEvent, Bench: 0, Interlock: safety.DrainWindow, Latched: true, Detail: "a leaf"}
	l.Record([]controller.Event{{Kind: controller.GuardActed, At: noon(2), Bench: 0, Guard: latch}}, &next)
	require.NoError(t, l.Flush(t.Context()))
	files := map[string][]byte{SettingsName: []byte("the version in force\n")}
	for _, name := range []string{fileName, fileName + "-wal", witnessName} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		files[name] = data
	}
	require.NotEmpty(t, files[fileName+"-wal"], "it died")
	return files
}

// harms are what becomes of the files meanwhile.
func harms(t testing.TB, whole map[string][]byte) map[string]map[string][]byte {
	without := func(names ...string) map[string][]byte {
		files := maps.Clone(whole)
		for _, name := range names {
			delete(files, name)
		}
		return files
	}
	spoilt := func(part string, copyToo bool) map[string][]byte {
		files := maps.Clone(whole)
		files[fileName] = spoilPart(t, files[fileName], part)
		delete(files, fileName+"-wal")
		if copyToo {
			delete(files, witnessName)
		}
		return files
	}
	return map[string]map[string][]byte{
		"none":                                whole,
		"without the ledger":                  without(fileName, fileName+"-wal"),
		"without the copy":                    without(witnessName),
		"without the log":                     without(fileName + "-wal"),
		"without the log and the copy":        without(fileName+"-wal", witnessName),
		"without either":                      without(fileName, fileName+"-wal", witnessName),
		"the head spoilt":                     spoilt(headPart, false),
		"the head spoilt, without the copy":   spoilt(headPart, true),
		"the bench spoilt":                    spoilt(benchPart+"north", false),
		"the bench spoilt, without the copy":  spoilt(benchPart+"north", true),
		"the other spoilt, without the copy":  spoilt(benchPart+"south", true),
		"only the settings and the old table": spoilt(commissioningPart, true),
	}
}

// live has one program after another go on in dir under each version of a file: a
// program of its own for each, or one that reads the file anew. It returns the
// guard under the last.
func live(t testing.TB, dir string, versions [][]wire, reload bool) (g *safety.Guard, told bool) {
	var l *Ledger
	for i, wires := range versions {
		limits := fileOfBenches(wires...)
		if g != nil && reload {
			g = g.Reloaded(limits, noon(9))
		} else {
			var r Recovered
			var err error
			l, r, err = Open(dir, Options{Limits: limits, Site: "Quarry Lane"})
			require.NoError(t, err)
			told = told || len(r.Found) > 0 || r.SetAside != ""
			state := loop.Checkpoint{}
			if r.Checkpoint != nil {
				state = *r.Checkpoint
			}
			g = safety.New(limits, state.Guard, noon(9), fmt.Sprint("boot ", i))
		}
		if !reload {
			l.Record(nil, &loop.Checkpoint{Guard: g.State()})
			require.NoError(t, l.Close())
		}
	}
	if reload {
		require.NoError(t, l.Close())
	}
	return g, told
}

func TestNoDamageAndNoEditOfTheFileLosesALatch(t *testing.T) {
	t.Parallel()
	harmed, tried, n := harms(t, twoBenches(t)), 0, 0
	for _, harm := range slices.Sorted(maps.Keys(harmed)) {
		for _, what := range slices.Sorted(maps.Keys(edits)) {
			for _, reload := range []bool{false, true} {
				if n++; n%7 != 0 && what != "as it was" && !thorough() {
					continue
				}
				tried++
				where := fmt.Sprintf("%s, %s, reload %v", harm, what, reload)
				edits[what].try(t, harm, where, harmed[harm], reload)
			}
		}
	}
	t.Logf("states damaged and files edited: %d", tried)
}

// try has programs go on from files as the site's file is edited.
func (e edit) try(t *testing.T, harm, where string, files map[string][]byte, reload bool) {
	dir := t.TempDir()
	for name, data := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	versions := e.versions
	if reload { // after a start with the file as it was
		versions = append([][]wire{{northBench, southBench}}, versions...)
	}
	g, told := live(t, dir, versions, reload)
	s := g.State()
	if harm == "without either" && len(versions[0]) == 1 {
		return // nothing knows that there ever was another bench
	}
	for _, name := range e.may {
		assert.NotEmpty(t, s.Benches[name].Latched, "%s: %q floods", where, name)
	}
	if harm != "without the log" { // nothing stood in it alone
		assert.Equal(t, harm != "none", told, "%s: what is told", where)
	}
	if harm == "none" && e.other != "" {
		assert.Empty(t, s.Benches[e.other].Latched, "%s: %q does not flood", where, e.other)
	}
}
