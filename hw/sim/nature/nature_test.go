package nature_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/sim/nature"
)

const head = "name\tunit\tshape\tlow\thigh\twith\tsource\twhat\n"

func read(t *testing.T, rows ...string) *nature.Nature {
	n, err := nature.Read("a table", strings.NewReader(head+strings.Join(rows, "\n")))
	require.NoError(t, err)
	return n
}

func drawn(n *nature.Nature, name string) (all []float64) {
	for seed := range uint64(4000) {
		all = append(all, n.Draw(seed).Of(name, 3))
	}
	return all
}

// Of a uniform and a peaked row all figures lie in the span, of the other two 19 of
// 20; and the middle of all lies where the shape has it.
func TestFiguresLieInTheirSpanAsTheirShapeSays(t *testing.T) {
	for shape, want := range map[string]struct{ within, middle float64 }{
		"uniform": {1, 1}, "peaked": {1, 1}, "normal": {0.95, 1}, "skewed": {0.95, math.Sqrt(0.8 * 1.2)}, "either": {1, 1},
	} {
		var within, above int
		all := drawn(read(t, "pump.head\t1\t"+shape+"\t0.8\t1.2\t\tinvented\thead"), "pump.head")
		for _, f := range all {
			if f >= 0.8 && f <= 1.2 {
				within++
			}
			if f > want.middle {
				above++
			}
		}
		assert.InDelta(t, want.within, float64(within)/float64(len(all)), 0.012, shape)
		assert.InDelta(t, 0.5, float64(above)/float64(len(all)), 0.025, shape)
	}
}

func TestAPeakedRowIsFullestInTheMiddle(t *testing.T) {
	var middle int
	all := drawn(read(t, "pump.head\t1\tpeaked\t0.8\t1.2\t\tinvented\thead"), "pump.head")
	for _, f := range all {
		if f > 0.9 && f < 1.1 {
			middle++
		}
	}
	assert.InDelta(t, 0.75, float64(middle)/float64(len(all)), 0.02) // of a triangle, by its area
}

func TestRowsThatGoTogetherAreCorrelatedAndOthersAreNot(t *testing.T) {
	n := read(t,
		"pump.head\t1\tuniform\t0.8\t1.2\t\tinvented\thead",
		"pump.flow\t1\tuniform\t0.8\t1.2\tpump.head\tinvented\tflow",
		"air.use\t1\tuniform\t0.8\t1.2\t\tinvented\tair")
	head := drawn(n, "pump.head")
	assert.InDelta(t, math.Sqrt(0.5), correlation(head, drawn(n, "pump.flow")), 0.03)
	assert.InDelta(t, 0, correlation(head, drawn(n, "air.use")), 0.05)
}

func correlation(a, b []float64) float64 {
	var ma, mb, ab, aa, bb float64
	for i := range a {
		ma, mb = ma+a[i]/float64(len(a)), mb+b[i]/float64(len(b))
	}
	for i := range a {
		ab, aa, bb = ab+(a[i]-ma)*(b[i]-mb), aa+(a[i]-ma)*(a[i]-ma), bb+(b[i]-mb)*(b[i]-mb)
	}
	return ab / math.Sqrt(aa*bb)
}

// What is drawn of one thing hangs on nothing else: not on the other rows, and not
// on what was asked for before.
func TestADrawHangsOnSeedRowAndNumberAlone(t *testing.T) {
	row := "pump.head\t1\tuniform\t0.8\t1.2\t\tinvented\thead"
	alone, among := read(t, row), read(t, "air.use\t1\tuniform\t0.8\t1.2\t\tinvented\tair", row)
	for seed := range uint64(50) {
		d := among.Draw(seed)
		_ = d.Of("air.use", 0)
		assert.Equal(t, alone.Draw(seed).Of("pump.head", 1), d.Of("pump.head", 1))
		assert.NotEqual(t, d.Of("pump.head", 1), d.Of("pump.head", 2))
	}
	assert.NotEqual(t, alone.Draw(1).Of("pump.head", 1), alone.Draw(2).Of("pump.head", 1))
}

// A row that a nature leaves out has the plain bench's figure.
func TestThePlainBenchDrawsNothing(t *testing.T) {
	for seed := range uint64(20) {
		for _, n := range []*nature.Nature{nil, nature.Kind()} {
			assert.Equal(t, 1.0, n.Draw(seed).Of("pump.head", 0))
			assert.Equal(t, 0.0, n.Draw(seed).Of("pump.scatter", 0))
			assert.Equal(t, 2.0, n.Draw(seed).Of("float.band", 0))
		}
	}
}

// The two worlds draw everything, from different shapes, and every row says where
// its span comes from.
func TestTheShippedNaturesAreWholeAndNotAlike(t *testing.T) {
	wild, second := nature.Wild(), nature.Second()
	shapes := func(n *nature.Nature) map[string]nature.Shape {
		m := map[string]nature.Shape{}
		for _, r := range n.Rows {
			m[r.Name] = r.Shape
			assert.NotEmpty(t, r.Source, r.Name)
			assert.NotEmpty(t, r.What, r.Name)
		}
		return m
	}
	one, other := shapes(wild), shapes(second)
	var tied int
	for _, name := range nature.Names() {
		assert.Contains(t, one, name)
		assert.Contains(t, other, name)
		assert.NotEqual(t, one[name], other[name], name)
	}
	for _, r := range second.Rows {
		if r.With != "" {
			tied++
		}
	}
	assert.GreaterOrEqual(t, tied, 3)
}

func TestATableThatCannotBeIsRefusedAtItsLine(t *testing.T) {
	good := "pump.head\t1\tuniform\t0.8\t1.2\t\tinvented\thead"
	for table, want := range map[string]string{
		"":                            "", // a nature that draws nothing
		"pump.head,1,uniform\n":       "t:1: \"pump.head,1,uniform\": the first line names the columns",
		head + "pump.heat" + good[9:]: "t:2: \"pump.heat\": nothing reads that; there are air.use",
		head + "# words\n\n" + good + "\n" + good: "t:5: \"pump.head\" stands here twice",
		head + good[:10]: "t:2: 2 cells: a row has 8",
		head + strings.Replace(good, "uniform", "flat", 1):           "shape \"flat\": write uniform",
		head + strings.Replace(good, "\t1\t", "\tm\t", 1):            "unit \"m\": it is drawn in 1",
		head + strings.Replace(good, "0.8", "zero", 1):               "low \"zero\": write a number",
		head + strings.Replace(good, "0.8", "NaN", 1):                "low \"NaN\": write a number",
		head + strings.Replace(good, "0.8", "1.3", 1):                "the span from 1.3 to 1.2",
		head + strings.Replace(good, "1.2", "9", 1):                  "all of it lies between 0.5 and 1.5",
		head + strings.Replace(good, "uniform\t0.8", "skewed\t0", 1): "begins above 0",
		head + strings.Replace(good, "invented", "", 1):              "say where its span comes from",
		head + strings.Replace(good, "\t\t", "\tair.use\t", 1):       "with \"air.use\": name another row",
		head + strings.Replace(good, "\t\t", "\tpump.head\t", 1):     "with \"pump.head\": name another row",
	} {
		_, err := nature.Read("t", strings.NewReader(table))
		if want == "" {
			assert.NoError(t, err)
			continue
		}
		assert.ErrorContains(t, err, want, table)
	}
}
