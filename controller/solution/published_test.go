package solution

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

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
)

// given are the inputs of a row, by name.
type given struct {
	*testing.T
	fields map[string]string
}

func (g given) number(name string) float64 {
	g.Helper()
	x, err := strconv.ParseFloat(g.fields[name], 64)
	require.NoError(g, err, name)
	return x
}

func (g given) ec(name string) EC                  { return EC(g.number(name)) }
func (g given) litres(name string) quantity.Litres { return quantity.Litres(g.number(name)) }
func (g given) celsius() quantity.Celsius          { return quantity.Celsius(g.number("t")) }
func (g given) coefficient() Coefficient           { return Coefficient(g.number("percent") / 100) }

// recipes are those of the published rows. Cooper's grams are from memory.
var recipes = map[string]Recipe{
	"hoagland_1":        Hoagland1,
	"hoagland_2":        {{PotassiumNitrate, 6}, {CalciumNitrate, 4}, {AmmoniumPhosphate, 1}, {MagnesiumSulphate, 2}},
	"modified_hoagland": {{PotassiumNitrate, 6}, {CalciumNitrate, 4}, {AmmoniumPhosphate, 2}, {MagnesiumSulphate, 1}},
	"steiner":           Steiner,
	"cooper": {{CalciumNitrate, 1003 / CalciumNitrate.Mass}, {PotassiumNitrate, 583 / PotassiumNitrate.Mass},
		{PotassiumPhosphate, 263 / PotassiumPhosphate.Mass}, {MagnesiumSulphate, 513 / MagnesiumSulphate.Mass}},
}

func (e Elements) of(name string) float64 {
	return map[string]float64{"nitrate": e.Nitrate, "ammonium": e.Ammonium, "p": e.P, "k": e.K, "ca": e.Ca, "mg": e.Mg, "s": e.S}[name]
}

func (g given) recipe() Recipe {
	g.Helper()
	require.Contains(g, recipes, g.fields["recipe"])
	return recipes[g.fields["recipe"]]
}

var salts = map[string]Salt{"potassium_nitrate": PotassiumNitrate, "calcium_nitrate": CalciumNitrate,
	"potassium_phosphate": PotassiumPhosphate, "magnesium_sulphate": MagnesiumSulphate}

func (g given) grams() float64 {
	for _, m := range g.recipe() {
		if m.Salt == salts[g.fields["salt"]] {
			return m.Grams()
		}
	}
	g.Fatalf("no salt %q", g.fields["salt"])
	return 0
}

func value[Q ~float64](g given) func(Q, error) float64 {
	return func(q Q, err error) float64 {
		g.Helper()
		require.NoError(g, err)
		return float64(q)
	}
}

var worked = map[string]func(g given) float64{
	"chloride": func(g given) float64 { return chloride(g.celsius()) * g.number("at25") },
	"compensate": func(g given) float64 {
		return 1000 * value[EC](g)(Compensate(g.ec("reading")/1000, g.celsius(), g.coefficient()))
	},
	"misreads": func(g given) float64 {
		return 100 * value[quantity.Fraction](g)(CompensationError(g.celsius(), g.coefficient()))
	},
	"dilute": func(g given) float64 {
		return value[quantity.Litres](g)(Dilute(g.litres("litres"), g.ec("from"), g.ec("to"), g.ec("water")))
	},
	"raise": func(g given) float64 {
		return value[quantity.Litres](g)(Raise(g.litres("litres"), g.ec("from"), g.ec("to"), g.ec("stock")))
	},
	"loss":  func(g given) float64 { return value[EC](g)(Lose(g.litres("litres"), g.litres("lost"), g.ec("ec"))) },
	"ppm":   func(g given) float64 { return value[float64](g)(Scale(g.number("scale")).PPM(g.ec("ec"))) },
	"ec":    func(g given) float64 { return value[EC](g)(g.recipe().EC()) },
	"grams": func(g given) float64 { return g.grams() },
	"oxygen": func(g given) float64 {
		return value[float64](g)(oxygenAt(g.celsius(), g.number("mmhg")/760, 0))
	},
	"fed_least":    func(given) float64 { return float64(Fed[0]) },
	"fed_most":     func(given) float64 { return float64(Fed[1]) },
	"fed_between":  func(g given) float64 { return min(max(g.number("want"), float64(Fed[0])), float64(Fed[1])) },
	"pressure_kpa": func(g given) float64 { return 101.325 * atmospheres(quantity.Metres(g.number("altitude"))) },
}

func (g given) work(name string) float64 {
	g.Helper()
	if element, ok := strings.CutPrefix(name, "recipe."); ok {
		e, err := g.recipe().Elements()
		require.NoError(g, err)
		return e.of(element)
	}
	require.Contains(g, worked, name)
	return worked[name](g)
}

// TestPublishedRows holds the arithmetic to numbers from outside this project.
// Its log counts the rows by source and by how each is known.
func TestPublishedRows(t *testing.T) {
	count, total := map[string]int{}, 0
	for name, least := range map[string]int{"kcl-compensation": 55, "oxygen-saturation": 61, "solution-mix": 73} {
		f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name+".csv"))
		require.NoError(t, err)
		defer f.Close()
		lines, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(lines)-1, least, name)
		for i, line := range lines[1:] {
			t.Run(fmt.Sprintf("%s/%d", name, i+2), func(t *testing.T) {
				g := given{t, map[string]string{"want": line[2], "tolerance": line[3]}}
				for _, field := range strings.Fields(line[1]) {
					k, v, _ := strings.Cut(field, "=")
					g.fields[k] = v
				}
				assert.InDelta(t, g.number("want"), g.work(line[0]), g.number("tolerance"), "%v", line)
			})
			source, _, _ := strings.Cut(line[4], "(")
			count[strings.TrimSpace(source)+" ["+line[5]+"]"]++
			total++
		}
	}
	for _, source := range slices.Sorted(maps.Keys(count)) {
		t.Logf("%4d  %s", count[source], source)
	}
	t.Logf("%4d  rows in all", total)
}
