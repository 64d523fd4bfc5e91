package commission_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
)

// visit is a simulated bench, the hands of whoever stands beside it, and what
// was said.
type visit struct {
	t        *testing.T
	site     *config.Site
	world    *sim.World
	record   *commission.Memory
	ledger   *loop.Memory
	said     bytes.Buffer
	log      bytes.Buffer
	cp       *loop.Checkpoint
	fails    func(a commission.Act, where string) bool // what the hands do not do
	back     func()                                    // is called when the machine comes back
	believes bool                                      // a wrong clock
	swapped  map[string]string                         // what the hands reach for in place of a switch
}

var evening = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

func newVisit(t *testing.T, file []byte) *visit {
	site, problems := config.Parse("bench.yaml", file)
	require.NoError(t, problems.Err())
	world, err := rehearse.NewWorld(site, evening)
	require.NoError(t, err)
	return &visit{t: t, site: site, world: world, record: &commission.Memory{}, ledger: &loop.Memory{}}
}

func (v *visit) options(answers string) commission.Options {
	person, err := commission.NewScript("answers", strings.NewReader(answers), &v.said)
	require.NoError(v.t, err)
	return commission.Options{
		Site: v.site, Person: person, Hands: v, Record: v.record, Log: &v.log,
		Setup: rehearse.Setup, Clock: v.world, Board: v.world, Ledger: v.ledger, Checkpoint: v.cp, Boot: "boot 0",
	}
}

func (v *visit) commission(answers string) error {
	return commission.Run(v.t.Context(), v.options(answers))
}

// Do acts on a switch of the simulated bench.
func (v *visit) Do(a commission.Act, where string) error {
	if v.fails != nil && v.fails(a, where) {
		return nil
	}
	if swapped, ok := v.swapped[where]; ok {
		where = swapped
	}
	w := v.world
	switch a {
	case commission.Open:
		return w.Inject(sim.Fault{What: "wire-open", Where: where})
	case commission.Bridge:
		return w.Inject(sim.Fault{What: "wire-short", Where: where})
	case commission.Rejoin:
		w.Clear("wire-open", where)
	case commission.Part:
		w.Clear("wire-short", where)
	case commission.HoldDown:
		return w.Inject(sim.Fault{What: "full-stuck-low", Where: strings.TrimSuffix(where, ".full")})
	case commission.Free:
		w.Clear("full-stuck-low", strings.TrimSuffix(where, ".full"))
	case commission.Pull:
		return w.Inject(sim.Fault{What: "relay-open", Where: where})
	case commission.PutBack:
		w.Clear("relay-open", where)
	case commission.Unplug:
		return w.Inject(sim.Fault{What: "pump-dead", Where: where})
	case commission.PlugIn:
		w.Clear("pump-dead", where)
	case commission.Restart, commission.CutPower:
		return w.Inject(sim.Fault{What: "power-cut", For: dark})
	case commission.Kill:
		return w.Inject(sim.Fault{What: "process-crash"})
	case commission.SetWrong:
		w.Trust(v.believes)
		require.NoError(v.t, w.Inject(sim.Fault{What: "clock-jump", For: time.Hour, Size: -1}))
		return w.Inject(sim.Fault{What: "power-cut", For: dark})
	case commission.SetRight:
		w.Trust(true)
		return w.Inject(sim.Fault{What: "clock-jump", For: time.Hour})
	case commission.Wet, commission.Dry:
		if where == "hands_in" {
			v.world.Press(a == commission.Wet)
			return nil
		}
		return v.world.Lift(where, (a == commission.Wet) != strings.HasSuffix(where, ".low"))
	default:
		return fmt.Errorf("no such act: %s", a)
	}
	return nil
}

const dark = 30 * time.Second

// Return brings the machine back.
func (v *visit) Return(commission.Act) (string, error) {
	v.world.Advance(v.world.Elapsed() + dark)
	err := v.world.Start()
	if v.back != nil {
		v.back()
	}
	return fmt.Sprintf("boot %d", v.world.Host().Boots), err
}

func (v *visit) Scale(reservoir int) quantity.Litres {
	return quantity.Litres(math.Round(v.world.Litres(reservoir)))
}

func (v *visit) Closed(output int) bool { return v.world.Outputs[output].Contact }

func (v *visit) judge() commission.Verdict {
	entries, err := v.record.Entries()
	require.NoError(v.t, err)
	st, err := commission.Judge(v.site, entries, v.world.Now())
	require.NoError(v.t, err)
	return st
}
