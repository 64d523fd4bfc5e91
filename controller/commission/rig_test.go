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
	t       *testing.T
	site    *config.Site
	world   *sim.World
	record  *commission.Memory
	ledger  *loop.Memory
	said    bytes.Buffer
	log     bytes.Buffer
	cp      *loop.Checkpoint
	swapped map[string]string // what the hands reach for in place of a switch
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
		Setup: rehearse.Setup, Clock: v.world, Board: v.world, Ledger: v.ledger, Checkpoint: v.cp, Boot: "boot",
	}
}

func (v *visit) commission(answers string) error {
	return commission.Run(v.t.Context(), v.options(answers))
}

// Do acts on a switch of the simulated bench.
func (v *visit) Do(a commission.Act, where string) error {
	if swapped, ok := v.swapped[where]; ok {
		where = swapped
	}
	switch a {
	case commission.Wet, commission.Dry:
		if where == "hands_in" {
			v.world.Press(a == commission.Wet)
			return nil
		}
		return v.world.Lift(where, (a == commission.Wet) != strings.HasSuffix(where, ".low"))
	case commission.Open:
		return v.world.Inject(sim.Fault{What: "wire-open", Where: where})
	case commission.Bridge:
		return v.world.Inject(sim.Fault{What: "wire-short", Where: where})
	case commission.Rejoin:
		v.world.Clear("wire-open", where)
	case commission.Part:
		v.world.Clear("wire-short", where)
	default:
		return fmt.Errorf("no such act: %s", a)
	}
	return nil
}

func (v *visit) Scale(reservoir int) quantity.Litres {
	return quantity.Litres(math.Round(v.world.Litres(reservoir)))
}

func (v *visit) Closed(output int) bool { return v.world.Outputs[output].Contact }

func (v *visit) judge() commission.Standing {
	entries, err := v.record.Entries()
	require.NoError(v.t, err)
	st, err := commission.Judge(v.site, entries, v.world.Now())
	require.NoError(v.t, err)
	return st
}
