package sim_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim"
	"benchtide/safety"
)

const natureHead = "name\tunit\tshape\tlow\thigh\twith\tsource\twhat\n"

// fixed is a nature that always draws the same figure of one row.
func fixed(t *testing.T, row, unit, figure string) *sim.Nature {
	n, err := sim.ReadNature("fixed", strings.NewReader(natureHead+row+"\t"+unit+"\tuniform\t"+figure+"\t"+figure+"\t\tinvented\tfor a test"))
	require.NoError(t, err)
	return n
}

// lived is what came of one flood of oneBench and the day after it.
type lived struct {
	fill, fall   time.Duration
	peak, gone   float64 // m, and litres that went from the reservoir in the day
	water, least float64 // in the pots, share of container capacity
	warm         safety.Celsius
}

func live(t *testing.T, n *sim.Nature) (l lived) {
	c := oneBench()
	c.Nature = n
	c.Benches[0].Batches[0].Planted = -20 * 24 * time.Hour
	w := world(t, c)
	start := w.Now().Mono
	w.Energise(pump, enable)
	l.fill = until(t, w, 30*time.Minute, fullIs(safety.Wet)) - start
	w.Advance(w.Elapsed() + 6*time.Minute)
	stop := w.Now().Mono
	w.Energise(enable)
	l.fall = until(t, w, 30*time.Minute, fullIs(safety.Dry)) - stop
	w.Advance(24 * time.Hour)
	truth := w.Truth()
	require.InDelta(t, 0, truth.Error, 1e-9)
	l.peak, l.gone, l.warm = truth.Benches[0].Peak, 200-truth.Reservoirs[0].Litres, truth.Reservoirs[0].Temperature
	l.water, l.least = truth.Batches[0].Water, truth.Batches[0].Lowest
	return l
}

// Every row does what its words say, by itself, against the plain bench.
func TestEachRowOfANatureDoesWhatItSays(t *testing.T) {
	plain := live(t, nil)
	for _, tt := range []struct {
		row, unit, figure string
		does              func(lived) bool
	}{
		{"pump.straight", "1", "1", func(l lived) bool { return l.fill > plain.fill+20*time.Second && l.peak < plain.peak }},
		{"pump.head", "1", "0.9", func(l lived) bool { return l.fill > plain.fill+5*time.Second }},
		{"pump.flow", "1", "0.9", func(l lived) bool { return l.fill > plain.fill+5*time.Second }},
		{"pump.scatter", "1", "0.05", func(l lived) bool { return l.fill != plain.fill }},
		{"pump.air", "s", "8", func(l lived) bool { return (l.fill - plain.fill).Round(time.Second) == 8*time.Second }},
		{"hose.resistance", "1", "1.4", func(l lived) bool { return l.fill > plain.fill+5*time.Second && l.fall > plain.fall }},
		{"standpipe.flow", "1", "0.7", func(l lived) bool { return l.peak > plain.peak+0.0005 && l.fill == plain.fill }},
		{"drain.flow", "1", "0.75", func(l lived) bool { return l.fall > plain.fall*5/4 && l.fill == plain.fill }},
		{"table.tilt", "mm", "1.5", func(l lived) bool { return l.fill > plain.fill && l.fall < plain.fall }},
		{"table.size", "1", "1.05", func(l lived) bool { return l.fill > plain.fill }},
		{"float.at", "mm", "2", func(l lived) bool { return l.fill > plain.fill && l.fall < plain.fall }},
		{"float.band", "mm", "8", func(l lived) bool {
			return (l.fill-plain.fill).Abs() < 10*time.Millisecond && l.fall > plain.fall+10*time.Second
		}},
		{"tank.depth", "m", "0.2", func(l lived) bool { return l.fill < plain.fill }},
		{"tank.dries", "mm", "2", func(l lived) bool { return l.gone > plain.gone+1 }},
		{"tank.mark", "1", "0.97", func(l lived) bool { return l.gone > plain.gone+5 }},
		{"pots.holds", "1", "0.85", func(l lived) bool { return l.water < plain.water }},
		{"pots.start", "1", "0.6", func(l lived) bool { return l.least == 0.6 && l.fill > plain.fill }},
		{"plants.use", "1", "1.25", func(l lived) bool { return l.water < plain.water }},
		{"air.use", "1", "0.8", func(l lived) bool { return l.water > plain.water }},
		{"room.lag", "h", "1", func(l lived) bool { return l.warm != plain.warm }},
	} {
		assert.True(t, tt.does(live(t, fixed(t, tt.row, tt.unit, tt.figure))), tt.row)
	}
	slower := fixed(t, "pots.drinks", "1", "2")
	slower.Rows = append(slower.Rows, fixed(t, "pots.start", "1", "0.6").Rows...)
	assert.Less(t, live(t, slower).water, live(t, fixed(t, "pots.start", "1", "0.6")).water, "pots.drinks")
}

func TestAFloatThatSticksComesLateAndGoesInTime(t *testing.T) {
	plain := live(t, nil)
	n := fixed(t, "float.sticks", "1", "1")
	n.Rows = append(n.Rows, fixed(t, "float.stuck", "mm", "3").Rows...)
	stuck := live(t, n)
	assert.InDelta(t, float64(plain.fill)*29/26, float64(stuck.fill), float64(4*time.Second))
	assert.InDelta(t, float64(plain.fall), float64(stuck.fall), float64(2*time.Second))
}

// Leaves close over the table by nature's own curve, slowly, then fast, then slowly.
func TestCoverGrowsByItsOwnCurve(t *testing.T) {
	n := fixed(t, "plants.full", "1", "1.1")
	for row, figure := range map[string]string{"plants.half": "20", "plants.pace": "4"} {
		n.Rows = append(n.Rows, fixed(t, row, "day", figure).Rows...)
	}
	n.Rows = append(n.Rows, fixed(t, "plants.bare", "1", "0.3").Rows...)
	used := func(age int) float64 {
		c := oneBench()
		c.Nature = n
		c.Benches[0].Batches[0].Planted = -time.Duration(age) * 24 * time.Hour
		w := world(t, c)
		w.Advance(24 * time.Hour)
		return w.Truth().Totals.Used
	}
	young, half, old := used(0), used(20), used(60)
	assert.InDelta(t, 0.3/1.1, young/old, 0.05, "mouths of pots alone")
	assert.InDelta(t, 0.7/1.1, half/old, 0.05, "half covered")
}

// Nothing of the wild world is lost, and it goes on from a snapshot as it was.
func TestAWildWorldLosesNoWaterAndIsTheSameAgain(t *testing.T) {
	wild, err := sim.NatureNamed("wild")
	require.NoError(t, err)
	for seed := range uint64(4) {
		c := oneBench()
		c.Nature, c.Seed = wild, seed
		w := world(t, c)
		season(w, 20)
		saved, err := w.Snapshot()
		require.NoError(t, err)
		again, err := sim.Restore(c, saved)
		require.NoError(t, err)
		for _, x := range []*sim.World{w, again} {
			season(x, 3)
			x.Energise(pump, enable)
			x.Advance(x.Elapsed() + 2*time.Second) // the hose is not full yet
		}
		assert.Equal(t, w.Truth(), again.Truth())
		assert.Less(t, abs(w.Truth().Error), 1e-6*w.Truth().Totals.Moved)
	}
}

func TestANatureThatIsNotThereIsNamedWithThoseThatAre(t *testing.T) {
	_, err := sim.NatureNamed("tame")
	assert.EqualError(t, err, `"tame": write kind, second, wild`)
}
