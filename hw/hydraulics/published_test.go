package hydraulics_test

import (
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/hydraulics"
)

const (
	horsepower = 745.6998716 // W, mechanical (550 ft·lbf/s)
	gallon     = 3.785411784e-3
)

// row is one line of a table in testdata/published, by column name.
type row map[string]string

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	if top, bottom, ok := strings.Cut(r[column], "/"); ok {
		return row{"v": top}.number(t, "v") / row{"v": bottom}.number(t, "v")
	}
	x, err := strconv.ParseFloat(r[column], 64)
	require.NoError(t, err, "column %s of %v", column, r)
	return x
}

func (r row) metres(t *testing.T, column string) hydraulics.Metres {
	return hydraulics.Metres(r.number(t, column))
}

func (r row) flow(t *testing.T, column string) hydraulics.CubicMetresPerSecond {
	return hydraulics.CubicMetresPerSecond(r.number(t, column))
}

func table(t *testing.T, name string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "hydraulics-"+name+".csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	rows := make([]row, 0, len(lines))
	for _, line := range lines[1:] {
		r := row{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		rows = append(rows, r)
	}
	require.NotEmpty(t, rows)
	return rows
}

// TestPublishedRows holds every formula to numbers from outside this project.
// Its log counts the rows by source and by how each is known.
func TestPublishedRows(t *testing.T) {
	checks := map[string]func(*testing.T, row){
		"friction": checkFriction, "pipe": checkPipe, "pump": checkPump, "affinity": checkAffinity,
		"drain": checkDrain, "standpipe": checkStandpipe, "falling": checkFalling, "water": checkWater,
		"power": checkPower, "losses": checkLoss, "weir": checkWeir, "fluids": checkFluids, "series": checkSeries,
	}
	count, total := map[string]int{}, 0
	for _, name := range slices.Sorted(maps.Keys(checks)) {
		for i, r := range table(t, name) {
			if name == "fluids" {
				r["source"], r["known"] = "hydraulics-fluids.py, fluids 1.0.22", "computed"
			}
			t.Run(fmt.Sprintf("%s/%d", name, i+2), func(t *testing.T) { checks[name](t, r) })
			source, _, _ := strings.Cut(r["source"], "(")
			count[strings.TrimSpace(source)+" ["+r["known"]+"]"]++
			total++
		}
	}
	for _, source := range slices.Sorted(maps.Keys(count)) {
		t.Logf("%4d  %s", count[source], source)
	}
	t.Logf("%4d  rows in all", total)
}

func checkFriction(t *testing.T, r row) {
	f := map[string]func(float64, float64) (float64, error){
		"colebrook": hydraulics.Colebrook, "swamee-jain": hydraulics.SwameeJain, "factor": hydraulics.FrictionFactor,
		"laminar": func(re, _ float64) (float64, error) { return hydraulics.Laminar(re) },
	}[r["formula"]]
	got, err := f(r.number(t, "reynolds"), r.number(t, "roughness"))
	require.NoError(t, err)
	assert.InDelta(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

func checkPipe(t *testing.T, r row) {
	p := pipeOf(t, r)
	nu := hydraulics.SquareMetresPerSecond(r.number(t, "viscosity_m2s"))
	var got float64
	var err error
	switch r["quantity"] {
	case "velocity":
		v, e := p.Velocity(r.flow(t, "flow_m3s"))
		got, err = float64(v), e
	case "reynolds", "friction":
		v, e := p.Velocity(r.flow(t, "flow_m3s"))
		require.NoError(t, e)
		got, err = hydraulics.Reynolds(v, p.Bore, nu)
		if r["quantity"] == "friction" {
			got, err = hydraulics.FrictionFactor(got, float64(p.Roughness/p.Bore))
		}
	case "loss":
		h, e := p.HeadLoss(r.flow(t, "flow_m3s"), nu)
		got, err = float64(h), e
	case "flow":
		q, e := p.FlowUnder(r.metres(t, "head_m"), nu)
		got, err = float64(q), e
	}
	require.NoError(t, err)
	assert.InEpsilon(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

func pipeOf(t *testing.T, r row) hydraulics.Pipe {
	rough := "roughness_m"
	if _, ok := r[rough]; !ok {
		rough = "roughness"
	}
	return hydraulics.Pipe{
		Bore: r.metres(t, "bore_m"), Length: r.metres(t, "length_m"),
		Roughness: r.metres(t, rough), Minor: r.number(t, "minor"),
	}
}

// checkSeries is the pressure that two pipes in a row and a rise take.
func checkSeries(t *testing.T, r row) {
	nu := hydraulics.SquareMetresPerSecond(r.number(t, "viscosity_m2s"))
	head := r.metres(t, "rise_m")
	for _, prefix := range []string{"", "second_"} {
		p := hydraulics.Pipe{
			Bore: r.metres(t, prefix+"bore_m"), Length: r.metres(t, prefix+"length_m"),
			Roughness: r.metres(t, "roughness_m"), Minor: r.number(t, prefix+"minor"),
		}
		loss, err := p.HeadLoss(r.flow(t, "flow_m3s"), nu)
		require.NoError(t, err)
		head += loss
	}
	bar := r.number(t, "density") * hydraulics.Gravity * float64(head) / 1e5
	assert.InEpsilon(t, r.number(t, "want"), bar, r.number(t, "tolerance"))
}

func checkPump(t *testing.T, r row) {
	make := hydraulics.Nameplate
	if r["curve"] == "straight" {
		make = hydraulics.Straight
	}
	pump, err := make(r.metres(t, "max_head_m"), hydraulics.LitresPerHour(r.number(t, "max_flow_lph")))
	require.NoError(t, err)
	var got float64
	if r["quantity"] == "fill_s" {
		s := hydraulics.Supply{Pump: pump, Hose: noHose, Lift: r.metres(t, "static_m"), Viscosity: hydraulics.ViscosityAt20}
		d, err := s.FillTime(hydraulics.SquareMetres(r.number(t, "area_m2")), r.metres(t, "depth_m"))
		require.NoError(t, err)
		got = d.Seconds()
	} else {
		q, h, err := pump.OperatingPoint(r.metres(t, "static_m"), r.number(t, "resistance_s2m5"))
		require.NoError(t, err)
		got = map[string]float64{"flow_lph": q.LitresPerHour(), "head_m": float64(h)}[r["quantity"]]
	}
	assert.InEpsilon(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

// noHose is wide and empty enough to lose nothing.
var noHose = hydraulics.Pipe{Bore: 1}

func checkAffinity(t *testing.T, r row) {
	flow, head := r.number(t, "flow"), r.number(t, "head")
	ratio := r.number(t, "speed_to") / r.number(t, "speed_from")
	// The rated point lies on a curve; scaled, the point (ratio·Q, ratio²·H) must lie on the new one.
	pump, err := hydraulics.Measured(hydraulics.PumpPoint{Head: hydraulics.Metres(head * 1.3)},
		hydraulics.PumpPoint{Flow: hydraulics.CubicMetresPerSecond(flow), Head: hydraulics.Metres(head)})
	require.NoError(t, err)
	slow, err := pump.AtSpeed(ratio)
	require.NoError(t, err)
	scaled, err := slow.Head(hydraulics.CubicMetresPerSecond(flow * ratio))
	require.NoError(t, err)
	got := map[string]float64{
		"flow": float64(slow.MaxFlow()/pump.MaxFlow()) * flow, "head": float64(scaled),
		"power": r.number(t, "power") * ratio * float64(scaled) / head,
	}[r["quantity"]]
	assert.InDelta(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

func checkDrain(t *testing.T, r row) {
	o := hydraulics.Orifice{Area: hydraulics.SquareMetres(r.number(t, "opening_m2")), Discharge: r.number(t, "discharge")}
	got, err := o.DrainTime(hydraulics.SquareMetres(r.number(t, "area_m2")), r.metres(t, "from_m"), r.metres(t, "to_m"))
	require.NoError(t, err)
	assert.InDelta(t, r.number(t, "want_s"), got.Seconds(), r.number(t, "tolerance_s"))
}

func checkStandpipe(t *testing.T, r row) {
	s := hydraulics.Standpipe{Bore: r.metres(t, "bore_m")}
	if r["quantity"] == "transition_mm" {
		h, err := s.Transition()
		require.NoError(t, err)
		assert.InDelta(t, r.number(t, "want"), float64(h)*1e3, r.number(t, "tolerance"))
		return
	}
	q, err := s.Flow(r.metres(t, "head_m"))
	require.NoError(t, err)
	assert.InDelta(t, r.number(t, "want"), q.LitresPerHour()/60, r.number(t, "tolerance"))
}

func checkFalling(t *testing.T, r row) {
	var got float64
	switch r["quantity"] {
	case "stack_gpm":
		q, err := hydraulics.StackCapacity(r.metres(t, "bore_in")*0.0254, r.number(t, "fraction"))
		require.NoError(t, err)
		got = float64(q) * 60 / gallon
	case "selfventing_lpm":
		q, err := hydraulics.SelfVenting(r.metres(t, "bore_m"))
		require.NoError(t, err)
		got = q.LitresPerHour() / 60
	case "froude":
		fr, err := hydraulics.Froude(hydraulics.LitresPerHour(1000*r.number(t, "flow_m3h")), r.metres(t, "bore_m"))
		require.NoError(t, err)
		got = fr
	}
	assert.InDelta(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

func checkWater(t *testing.T, r row) {
	at := hydraulics.Celsius(r.number(t, "celsius"))
	density, err := hydraulics.Density(at)
	require.NoError(t, err)
	nu, err := hydraulics.Viscosity(at)
	require.NoError(t, err)
	got := map[string]float64{"density": float64(density), "viscosity_mm2s": float64(nu) * 1e6}[r["quantity"]]
	assert.InDelta(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

func checkPower(t *testing.T, r row) {
	w, err := hydraulics.HydraulicPower(r.flow(t, "flow_m3s"), r.metres(t, "head_m"),
		hydraulics.KilogramsPerCubicMetre(r.number(t, "density")))
	require.NoError(t, err)
	electric, err := hydraulics.ElectricalPower(w, r.number(t, "pump_efficiency"), r.number(t, "other_efficiency"))
	require.NoError(t, err)
	got := map[string]float64{
		"hydraulic_w": float64(w), "shaft_hp": float64(electric) / horsepower, "electric_hp": float64(electric) / horsepower,
	}[r["quantity"]]
	if r["quantity"] == "cost_at_0.12" {
		hours := time.Duration(r.number(t, "hours")) * time.Hour
		got = float64(hydraulics.Energy(electric, hours)) / 3.6e6 * 0.12
	}
	assert.InDelta(t, r.number(t, "want"), got, r.number(t, "tolerance"))
}

func checkLoss(t *testing.T, r row) {
	k, err := hydraulics.MinorLoss(hydraulics.Fitting(r["fitting"]))
	require.NoError(t, err)
	assert.GreaterOrEqual(t, k, r.number(t, "low"))
	assert.LessOrEqual(t, k, r.number(t, "high"))
}

func checkWeir(t *testing.T, r row) {
	q, err := hydraulics.Weir(r.metres(t, "edge_m"), r.metres(t, "head_m"))
	require.NoError(t, err)
	assert.InDelta(t, r.number(t, "want_cfs"), float64(q)/(0.3048*0.3048*0.3048), r.number(t, "tolerance"))
}

func checkFluids(t *testing.T, r row) {
	var got float64
	var err error
	switch r["quantity"] {
	case "colebrook":
		got, err = hydraulics.Colebrook(r.number(t, "reynolds"), r.number(t, "roughness"))
	case "swamee-jain":
		got, err = hydraulics.SwameeJain(r.number(t, "reynolds"), r.number(t, "roughness"))
	case "loss":
		h, e := pipeOf(t, r).HeadLoss(r.flow(t, "flow_m3s"), hydraulics.ViscosityAt20)
		got, err = float64(h), e
	}
	require.NoError(t, err)
	// Both solve the same equations and only rounding differs, except that fluids
	// writes Swamee-Jain's 5.74 as 6.97^0.9 = 5.7374.
	tolerance := 1e-7
	if r["quantity"] == "swamee-jain" {
		tolerance = 2e-4
	}
	assert.InEpsilon(t, r.number(t, "want"), got, tolerance)
}
