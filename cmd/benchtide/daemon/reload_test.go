package daemon

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/controller/sheet"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// files is a site's file that is edited between readings.
type files struct {
	versions map[string]version
	now      string // the version that the file holds
}

func (f *files) read() (version, error) {
	if v, ok := f.versions[f.now]; ok {
		return v, nil
	}
	return version{}, errors.New(f.now)
}

func TestWhatWaitsAfterAHangup(t *testing.T) {
	site := many(t, 1)
	d := running(t, site)
	judged := "what is in force, judged anew"
	for name, c := range map[string]struct {
		reads []string // what the file holds at each hangup
		waits string   // the version that waits afterwards; empty when none does
		first string   // what waits before; judged, or nothing
		alarm bool     // a person is told that the file is not in force
	}{
		"a good one":                            {reads: []string{"new"}, waits: "new"},
		"a bad one":                             {reads: []string{"bad"}, alarm: true},
		"one that vanished":                     {reads: []string{"vanished"}, alarm: true},
		"good, bad":                             {reads: []string{"new", "bad"}, waits: "new", alarm: true},
		"good, vanished":                        {reads: []string{"new", "vanished"}, waits: "new", alarm: true},
		"good, bad, good":                       {reads: []string{"new", "bad", "newer"}, waits: "newer"},
		"bad, good":                             {reads: []string{"bad", "new"}, waits: "new"},
		"good three times":                      {reads: []string{"new", "new", "new"}, waits: "new"},
		"good, and taken back":                  {reads: []string{"new", "old"}},
		"good, bad, and taken back":             {reads: []string{"new", "bad", "old"}},
		"nothing new":                           {reads: []string{"old"}},
		"judged anew, nothing new":              {reads: []string{"old"}, waits: judged, first: judged},
		"judged anew, bad":                      {reads: []string{"bad"}, waits: judged, first: judged, alarm: true},
		"judged anew, good, and taken back":     {reads: []string{"new", "old"}, first: judged},
		"judged anew, good, bad, another, same": {reads: []string{"new", "bad", "newer", "newer"}, waits: "newer", first: judged},
	} {
		t.Run(name, func(t *testing.T) {
			f := files{versions: map[string]version{}}
			for _, v := range []string{"old", "new", "newer"} {
				f.versions[v] = version{name: v, text: []byte(v), site: site}
			}
			r := reloader{inForce: f.versions["old"], read: f.read, notice: func(string, ...any) {}}
			var waits *version
			if c.first == judged {
				waits = &r.inForce
			}
			for _, f.now = range c.reads {
				waits = r.reread(t.Context(), d, waits)
			}
			switch c.waits {
			case "":
				assert.Nil(t, waits)
			case judged:
				assert.Same(t, &r.inForce, waits)
			default:
				require.NotNil(t, waits)
				assert.Equal(t, c.waits, waits.name)
			}
			assert.Equal(t, c.alarm, r.told)
		})
	}
}

// A run that took ./bench.yaml never goes over to the built-in example.
func TestAFileThatVanishesLeavesTheOneInForce(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.WriteFile(cli.UsualFile, config.Example, 0o644))
	s := &cli.Session{Err: io.Discard, Out: io.Discard}
	var c Run
	name, _, err := c.Read(s)
	require.NoError(t, err)
	c.stay(name)
	require.NoError(t, os.Remove(cli.UsualFile))
	_, err = c.version(s)
	assert.ErrorContains(t, err, "bench.yaml")
}

// voyage is a daemon in virtual time that is reloaded, or started anew.
type voyage struct {
	t     *testing.T
	world *sim.World
	dir   string
	site  *config.Site
	d     *daemon
	k     kept
	r     reloader
	next  time.Duration
	mono  atomic.Int64 // the boot-time clock of the latest turn, for other goroutines
	trips []safety.Event
}

// afloat keeps the world across a reload: its lines are those of the machine.
type afloat struct{ *sim.World }

func (afloat) Close() error { return nil }

func (v *voyage) machine() machine {
	return machine{clock: v.world, mono: func() time.Duration { return time.Duration(v.mono.Load()) }, board: afloat{v.world}, boot: "test", sinks: []loop.Sink{v}}
}

func (v *voyage) Turn(t *loop.Turn) {
	v.mono.Store(int64(t.Now.Mono))
	for _, e := range t.Events {
		if e.Kind == controller.GuardActed && e.Guard.Kind == safety.Tripped {
			v.trips = append(v.trips, e.Guard)
		}
	}
}

func embark(t *testing.T, site *config.Site) *voyage {
	at := site.Batches[0].Transplanted.AddDays(5).At(0).In(site.Zone).Add(afterTheLast)
	world, err := rehearse.NewWorld(site, at)
	require.NoError(t, err)
	v := &voyage{t: t, world: world, dir: t.TempDir(), site: site}
	v.r = reloader{notice: func(string, ...any) {}, start: func(_ context.Context, to version, at kept) (kept, machine, error) {
		k, err := openRecord(kept{dir: v.dir}, to.site)
		return k, v.machine(), err
	}}
	v.k, err = openRecord(kept{dir: v.dir}, site)
	require.NoError(t, err)
	v.begin()
	t.Cleanup(func() {
		v.end()
		require.NoError(t, v.k.ledger.Close())
	})
	return v
}

func (v *voyage) begin() {
	manager, err := newServiceManager()
	require.NoError(v.t, err)
	v.d, err = newDaemon(v.k, v.machine(), manager, newJournal(newLines(io.Discard), false, false))
	require.NoError(v.t, err)
	v.next = v.d.loop.Turn()
}

func (v *voyage) end() {
	v.d.api.Close()
	v.d.post.close()
}

// reload puts a site in force as a hangup does.
func (v *voyage) reload(site *config.Site) {
	v.end()
	k, _, err := v.r.swap(v.t.Context(), v.d, v.k, v.machine(), version{site: site})
	require.NoError(v.t, err)
	v.k, v.site = k, site
	v.begin()
}

// restart is a program start.
func (v *voyage) restart() {
	v.end()
	v.k.ledger.Record(nil, &loop.Checkpoint{Controller: v.d.loop.Controller.State("test"), Guard: v.d.loop.Guard.State()})
	require.NoError(v.t, v.k.ledger.Close())
	k, err := openRecord(kept{dir: v.dir}, v.site)
	require.NoError(v.t, err)
	v.k = k
	v.begin()
}

func (v *voyage) pass(d time.Duration) {
	v.next = v.d.loop.Turn() // acts between turns are taken up at once
	for end := v.world.Now().Mono + d; v.world.Now().Mono < end; {
		require.NoError(v.t, v.world.Wait(v.t.Context(), min(v.next, end), nil))
		v.next = v.d.loop.Turn()
	}
}

// flood lets the pump of the only bench run for a minute, and its water go.
func (v *voyage) flood() {
	require.NoError(v.t, v.d.loop.Act(func(c loop.Core) error { return c.Controller.Flood(c.Now, 0, 0) }))
	v.pass(time.Minute)
	b := &v.d.loop.Snapshot().Status.Benches[0]
	require.True(v.t, v.d.loop.Snapshot().Command.Any(), "the pump runs: %s %+v", b.Phase, b.Start)
	require.NoError(v.t, v.d.loop.Act(func(c loop.Core) error { return c.Controller.StopFlood(c.Now, 0) }))
	v.pass(5 * time.Minute)
}

// quick is a bench that is said to drain in three minutes.
func quick(t *testing.T) *config.Site {
	site, err := many(t, 1).WithCalibration(map[string]sheet.Cycle{"bench_0": {Drain: 3 * time.Minute}})
	require.NoError(t, err)
	return site
}

func TestFloodsBetweenReloadsAreNoRestartStorm(t *testing.T) {
	for name, again := range map[string]func(*voyage){
		"reload":  func(v *voyage) { v.reload(v.site) },
		"restart": (*voyage).restart,
	} {
		v := embark(t, quick(t))
		for range 3 {
			v.pass(4 * time.Minute)
			v.flood()
			again(v)
		}
		stormy := 0
		for _, e := range v.trips {
			if e.Interlock == safety.RestartStorm {
				stormy++
			}
		}
		assert.Equal(t, map[string]int{"reload": 0, "restart": 1}[name], stormy, name)
	}
}

func TestAReloadKeepsWhatOnlyMemoryHolds(t *testing.T) {
	v := embark(t, quick(t))
	v.pass(4 * time.Minute)
	require.NoError(t, v.d.loop.Act(func(c loop.Core) error {
		c.Guard.SetHandsIn(c.Now, true)
		return c.Controller.Pause(c.Now, 0, c.Now.Wall.Add(time.Hour), "Kim")
	}))
	v.pass(time.Second)
	v.r.start = func(_ context.Context, to version, at kept) (kept, machine, error) {
		require.NoError(t, os.Remove(filepath.Join(v.dir, "ledger.db")), "the record goes while the file is changed")
		k, err := openRecord(kept{dir: v.dir}, to.site)
		return k, v.machine(), err
	}
	v.reload(v.site)
	v.pass(time.Second)
	p := v.d.loop.Snapshot()
	assert.True(t, p.Status.HandsIn)
	assert.Equal(t, "Kim", p.Status.Benches[0].PausedBy)
}

func TestAVersionThatCannotBeginLeavesTheOneInForce(t *testing.T) {
	v := embark(t, quick(t))
	v.r.inForce = version{name: "old", site: v.site}
	broken := *v.site
	broken.Batches = append([]config.Batch(nil), broken.Batches...)
	broken.Batches[0].Bench = 7
	v.end()
	k, _, err := v.r.swap(t.Context(), v.d, v.k, v.machine(), version{name: "new", site: &broken})
	require.NoError(t, err)
	v.k = k
	assert.Error(t, k.notInForce)
	assert.Equal(t, "old", v.r.inForce.name)
	v.begin()
	v.pass(time.Second)
}

func TestHangupsThatComeTogetherAreAllHeard(t *testing.T) {
	site := many(t, 1)
	d := running(t, site)
	f := files{now: "new", versions: map[string]version{"new": {name: "new", text: []byte("new"), site: site}}}
	hangups := make(chan os.Signal, 1)
	r := reloader{inForce: version{name: "old", text: []byte("old")}, hangups: hangups, notice: func(string, ...any) {}}
	reads := make(chan string)
	r.read = func() (version, error) {
		f.now = <-reads
		return f.read()
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	done := make(chan *version, 1)
	go func() { done <- r.await(ctx, d) }()
	for _, text := range []string{"new", "bad", "new"} {
		hangups <- syscall.SIGHUP
		reads <- text
	}
	v := <-done
	require.NotNil(t, v)
	assert.Equal(t, "new", v.name)
}

func TestAlarmsGoOnAcrossAReloadWhateverBecameOfTheRecord(t *testing.T) {
	v := embark(t, quick(t))
	require.NoError(t, v.d.loop.Act(func(c loop.Core) error {
		c.Controller.Tell(controller.Message{Urgency: controller.Urgent, Bench: -1, Cause: "wiring", Text: "look"})
		return nil
	}))
	v.pass(time.Second)
	alarms := func() []string {
		var all []string
		for _, a := range v.d.post.dispatcher.Status().Alarms {
			all = append(all, a.Cause+" "+a.KnownTo)
		}
		return all
	}
	require.Eventually(t, func() bool { return slices.Contains(alarms(), "wiring ") }, 10*time.Second, time.Millisecond)
	start := v.r.start
	v.r.start = func(ctx context.Context, to version, at kept) (kept, machine, error) {
		files, err := filepath.Glob(filepath.Join(v.dir, "*"))
		require.NoError(t, err)
		for _, f := range files {
			require.NoError(t, os.Remove(f))
		}
		return start(ctx, to, at)
	}
	v.reload(v.site)
	assert.Contains(t, alarms(), "wiring ")
}
