package sheet_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// TestPublishedRows holds the sheet to what another program comes to from the same
// laws, cut finer and solved by another rule. Source: testdata/published/sheet-benches.py.
func TestPublishedRows(t *testing.T) {
	f, err := os.Open("../../testdata/published/sheet-benches.csv")
	require.NoError(t, err)
	defer func() { _ = f.Close() }()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(lines)-1, 70, "rows")
	last := len(lines[0]) - 1
	for n, line := range lines[1:] {
		in := map[string]float64{}
		for i, name := range lines[0] {
			if i != last-1 {
				in[name], err = strconv.ParseFloat(line[i], 64)
				require.NoError(t, err)
			}
		}
		s, err := sheet.New(benchOf(in))
		require.NoError(t, err)
		got := map[string]float64{
			"fill_s": s.Fill.Seconds(), "flow_l_per_h": float64(s.Flow), "overflow_head_mm": 1e3 * float64(s.OverflowHead),
			"v_flood_l": float64(s.VFlood), "bare_l": float64(s.Bare), "to_rim_l": float64(s.ToRim), "over_s": s.Over.Seconds(),
			"fall_s": s.Fall.Seconds(), "drain_s": s.Drain.Seconds(), "drawdown_mm": 1e3 * float64(s.Drawdown),
			"end_flow_l_per_h": float64(s.EndFlow), "load_kg_per_m2": s.LoadPerSquareMetre, "left_l": float64(s.Left), "power_w": s.Point.Power,
		}[line[last-1]]
		assert.InEpsilon(t, in["want"], got, 0.003, "row %d, %s", n+2, line[last-1])
	}
}

func benchOf(in map[string]float64) sheet.Bench {
	m := func(name string) quantity.Metres { return quantity.Metres(in[name]) }
	b := sheet.Bench{
		Table:     sheet.Table{Length: m("length"), Width: m("width"), Rim: m("rim")},
		Standpipe: sheet.Standpipe{Crest: m("crest"), Bore: m("stand")},
		Supply:    sheet.Supply{Bore: m("bore"), Length: m("hose_length"), Lift: m("lift"), MaxHead: m("max_head"), MaxFlow: quantity.LitresPerHour(in["max_flow"])},
		Drain:     sheet.Drain{ThroughPump: in["fitting"] == 0, Bore: m("fitting"), Length: m("fitting_length")},
		Full:      m("full"),
		Usable:    quantity.Litres(in["usable"]),
		Surface:   quantity.SquareMetres(in["surface"]),
	}
	if in["pots"] > 0 {
		b.Tenants = [][]sheet.Pots{{{Count: int(in["pots"]), Top: m("top"), Volume: quantity.Litres(in["volume"]), Capacity: quantity.Fraction(in["capacity"])}}}
	}
	return b
}
