package rehearse

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/hw/sim"
)

// wild is a plain month in which a seed draws the bench itself.
func wild(t *testing.T, name string, seed uint64) Scenario {
	n, err := sim.NatureNamed(name)
	require.NoError(t, err)
	s := Plain(date(t, "2026-03-02"), 30, seed)
	s.Nature = n
	return s
}

// A bench that is not the one of its file, once it was timed, floods all the same:
// whatever was drawn, each flood is proven and no water is on the floor.
func TestABenchAsNatureHasItFloodsOnceItWasTimed(t *testing.T) {
	site := example(t)
	for _, name := range []string{"wild", "second"} {
		proven, all := 0, 0
		for seed := range uint64(12) {
			rep := rehearsed(t, site, wild(t, name, 9100+seed))
			assert.Empty(t, rep.BrokenInvariants, "%s, seed %d", name, seed)
			assert.Zero(t, rep.SpilledL, "%s, seed %d", name, seed)
			assert.Zero(t, rep.DryPumpS, "%s, seed %d", name, seed)
			assert.Equal(t, name, rep.Nature)
			proven, all = proven+rep.Floods[controller.Proven], all+len(rep.Ledger)
		}
		assert.GreaterOrEqual(t, proven*100, all*99, "%s: %d of %d", name, proven, all)
	}
}

// Benches with EMPTY and a floor sensor, two of them on one reservoir.
func TestBenchesWithEverySwitchAreTimed(t *testing.T) {
	site := configured(t, "two-benches.yaml")
	for seed := range uint64(4) {
		rep := rehearsed(t, site, wild(t, "wild", 300+seed))
		assert.Empty(t, rep.NotTimed, "seed %d", 300+seed)
		assert.Equal(t, len(rep.Ledger), rep.Floods[controller.Proven], "seed %d", 300+seed)
	}
}

// What is found by a watch is of the hidden bench, and not of the file.
func TestAHiddenBenchIsTimedByWatchAndSwitch(t *testing.T) {
	site := example(t)
	s := wild(t, "wild", 14)
	found, refused, err := Timed(context.Background(), site, site, &s)
	require.NoError(t, err)
	assert.Empty(t, refused)
	rep := rehearsed(t, site, s)
	last := rep.Ledger[len(rep.Ledger)-1]
	cycle := found.Benches[0].Cycle
	assert.InEpsilon(t, *last.FillS, cycle.Fill.Seconds(), 0.05)
	assert.InEpsilon(t, *last.FallS, cycle.Fall.Seconds(), 0.05)
	assert.Greater(t, cycle.Fall, site.Benches[0].Cycle.Fall*5/4)

	s.Nature = nil
	found, _, err = Timed(context.Background(), site, site, &s)
	require.NoError(t, err)
	assert.Same(t, site, found, "the plain bench is the one of its file")
}

// A pump that barely lifts by its label does not in every nature: such a bench would
// not be commissioned, and the report says which it is.
func TestABenchWhosePumpDoesNotReachFullIsNotTimed(t *testing.T) {
	site := altered(t, "lift: 0.8 m,", "lift: 2.03 m,") // its fill was timed, by the file
	var not int
	for seed := range uint64(12) {
		not += len(rehearsed(t, site, wild(t, "wild", seed)).NotTimed)
	}
	assert.Greater(t, not, 2)
	assert.Less(t, not, 12)
}

func TestAScenarioNamesItsNature(t *testing.T) {
	site := example(t)
	s, err := ParseScenario("s.yaml", []byte("from: 2026-03-02\ndays: 3\nnature: wild\n"), site)
	require.NoError(t, err)
	assert.Equal(t, "wild", s.Nature.Name)
	_, err = ParseScenario("s.yaml", []byte("from: 2026-03-02\ndays: 3\nnature: tame\n"), site)
	assert.ErrorContains(t, err, `s.yaml:3:9: nature: "tame": write kind, second, wild`)
}
