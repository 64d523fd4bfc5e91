package ledger

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// site is a whole simulated site with its ledger, in virtual time.
type site struct {
	wall  atomic.Int64 // of the latest turn, for the writer's goroutine
	t     testing.TB
	setup controller.Setup
	world *sim.World
	zone  *time.Location
	loop  *loop.Loop
}

func exampleSite(t testing.TB) *config.Site {
	data, err := os.ReadFile("../config/example.yaml")
	require.NoError(t, err)
	s, problems := config.Parse("example.yaml", data)
	require.Empty(t, problems)
	return s
}

// newSite is the example site at a local time.
func newSite(t testing.TB, start string) *site {
	file := exampleSite(t)
	at, err := time.ParseInLocation("2006-01-02 15:04", start, file.Zone)
	require.NoError(t, err)
	setup, err := rehearse.Setup(file)
	require.NoError(t, err)
	world, err := rehearse.NewWorld(file, at)
	require.NoError(t, err)
	return &site{t: t, setup: setup, world: world, zone: file.Zone}
}

func (s *site) options() Options { return Options{Limits: s.setup.Limits, Zone: s.zone} }

// begin starts the program on a ledger from what it recovered.
func (s *site) begin(l loop.Ledger, cp *loop.Checkpoint, boot string) {
	now := s.world.Now()
	s.wall.Store(now.Wall.UnixNano())
	var state loop.Checkpoint
	c, err := controller.New(s.setup, now)
	if cp != nil {
		state = *cp
		c, err = controller.Resume(s.setup, now, cp.Controller, boot)
	}
	require.NoError(s.t, err)
	s.loop = loop.New(loop.Parts{
		Clock: s.world, Board: s.world, Limits: s.setup.Limits, Ledger: l, Boot: boot, Heartbeat: time.Hour,
		Guard: safety.New(s.setup.Limits, state.Guard, now, boot), Controller: c,
	})
	require.NoError(s.t, s.world.Apply(safety.Command{}))
}

// run takes turns for d of virtual time.
func (s *site) run(d time.Duration) {
	end := s.world.Elapsed() + d
	for s.world.Elapsed() < end {
		s.wall.Store(s.world.Now().Wall.UnixNano())
		next := s.loop.Turn()
		left := end - s.world.Elapsed()
		require.NoError(s.t, s.world.Wait(context.Background(), min(next, s.world.Now().Mono+left), nil))
	}
}

// paced is a ledger whose batches go by virtual time: what is urgent is stored
// before the turn ends, the rest a minute later at the latest.
type paced struct {
	*Ledger
	t     testing.TB
	world *sim.World
	since time.Duration // the oldest that waits
	waits bool

	stored func() // after each write; may be nil
}

func (p *paced) Record(events []controller.Event, cp *loop.Checkpoint) {
	now := p.world.Elapsed()
	if p.waits && now-p.since >= p.options.BatchFor {
		p.flush()
	}
	old := p.Ledger.newest
	p.Ledger.Record(events, cp)
	if !p.waits {
		p.waits, p.since = true, now
	}
	urgent := cp != nil && (old == nil || old.Controller.NextID != cp.Controller.NextID || !mayWait(&old.Guard, &cp.Guard))
	for i := range events {
		urgent = urgent || durable(&events[i])
	}
	if urgent {
		p.flush()
	}
}

func (p *paced) flush() {
	require.NoError(p.t, p.Flush(p.t.Context()))
	p.waits = false
	if p.stored != nil {
		p.stored()
	}
}

// open opens a ledger that closes with the test.
func open(t testing.TB, dir string, o Options) (*Ledger, Recovered) {
	l, r, err := Open(dir, o)
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	return l, r
}

// copyDir copies the files of a ledger as a process that died here leaves
// them: without the shared memory, which dies with it.
func copyDir(t testing.TB, from, to string) {
	require.NoError(t, os.MkdirAll(to, 0o750))
	for _, name := range []string{fileName, fileName + "-wal", fileName + "-journal"} {
		data, err := os.ReadFile(filepath.Join(from, name))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(to, name), data, 0o640))
	}
}

var limits = safety.Limits{
	Outputs:    []safety.OutputLimits{{Name: "pump", Kind: safety.FloodPump, Enable: -1}, {Name: "air", Enable: -1}},
	Reservoirs: []safety.ReservoirLimits{{Name: "tank"}},
	Benches:    []safety.BenchLimits{{Name: "north"}, {Name: "south"}},
}

var dublin = mustZone("Europe/Dublin")

func mustZone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

// noon is a moment on the n-th day of July 2026, the boot-time clock with it.
func noon(n int) safety.Now {
	d := time.Duration(n-1) * 24 * time.Hour
	return safety.Now{Mono: time.Hour + d, Wall: time.Date(2026, 7, 1, 11, 0, 0, 0, time.UTC).Add(d), Trusted: true}
}

func later(now safety.Now, d time.Duration) safety.Now {
	now.Mono += d
	now.Wall = now.Wall.Add(d)
	return now
}

// aFlood is flood id on day id of July, proven.
func aFlood(id int64) controller.Flood {
	due := noon(int(id)).Wall
	return controller.Flood{
		ID: id, HasSlot: true, Due: due, Cause: controller.BySchedule, Hold: 6 * time.Minute, Strength: 0.5,
		Started: due.Add(time.Second), Ended: due.Add(25 * time.Minute), Outcome: controller.Proven,
		Fill: 210*time.Second + 500*time.Millisecond, Stood: 6 * time.Minute, Fall: 2 * time.Minute, Run: 10 * time.Minute, Litres: 66.6, Counted: true,
	}
}

func floodEvent(kind controller.EventKind, f controller.Flood, at safety.Now) controller.Event {
	return controller.Event{Kind: kind, At: at, Bench: f.Bench, Output: -1, Flood: f}
}

// intended is flood f before its pump started.
func intended(f controller.Flood) controller.Flood {
	return controller.Flood{ID: f.ID, Bench: f.Bench, HasSlot: f.HasSlot, Slot: f.Slot, Due: f.Due, Cause: f.Cause, Hold: f.Hold, Strength: f.Strength}
}
