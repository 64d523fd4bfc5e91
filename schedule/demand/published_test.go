package demand

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
)

// table reads testdata/published/name.csv, one map from column to field a row.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name+".csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, column := range lines[0] {
			row[column] = line[i]
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

// inputs are the given numbers of a row, by name.
type inputs map[string]float64

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}

func optional[Q ~float64](in inputs, name string) Optional[Q] {
	if x, ok := in[name]; ok {
		return Known(Q(x))
	}
	return Optional[Q]{}
}

func (in inputs) celsius(name string) Celsius { return Celsius(in[name]) }
func (in inputs) percent(name string) Percent { return Percent(in[name]) }
func (in inputs) sun() sun                    { return sunOn(int(in["yearday"]), in["latitude"]) }
func (in inputs) pressure() Kilopascals       { return Pressure(Metres(in["altitude"])) }

func (in inputs) pot() Pot {
	if _, given := in["easy"]; !given {
		p, _ := NewPot(Litres(in["volume"]), in["capacity"])
		return p
	}
	return Pot{Volume: Litres(in["volume"]), Capacity: in["capacity"], Easy: in["easy"], Hard: in["hard"], Drinks: UsualDrinks}
}

func (in inputs) location() Location {
	return Location{Latitude: in["latitude"], Altitude: Metres(in["altitude"]), Coastal: in["coastal"] == 1, Cover: Cover(in["cover"])}
}

func (in inputs) day() Day {
	return Day{
		YearDay: int(in["yearday"]), Low: in.celsius("low"), High: in.celsius("high"),
		Driest: optional[Percent](in, "driest"), Dampest: optional[Percent](in, "dampest"),
		Humidity: optional[Percent](in, "humidity"), Dew: optional[Celsius](in, "dew"),
		Vapour: optional[Kilopascals](in, "vapour"), Wind: optional[MetresPerSecond](in, "wind"),
		Sunshine: optional[Hours](in, "sunshine"), Light: optional[Megajoules](in, "light"),
		Soil: Megajoules(in["soil"]),
	}
}

// of gives one quantity of a balance.
func (b Balance) of(t *testing.T, quantity string) float64 {
	t.Helper()
	switch quantity {
	case "et":
		return float64(b.ET)
	case "slope":
		return float64(b.Slope)
	case "gamma":
		return float64(b.Gamma)
	case "saturation":
		return float64(b.Saturation)
	case "vapour":
		return float64(b.Vapour)
	case "deficit":
		return float64(b.Deficit())
	case "above":
		return float64(b.Above)
	case "daylight":
		return float64(b.Daylight)
	case "light":
		return float64(b.Light)
	case "clear_sky":
		return float64(b.ClearSky)
	case "clearness":
		return clearness(b.Light, b.ClearSky)
	case "short_wave":
		return float64(b.ShortWave)
	case "long_wave":
		return float64(b.LongWave)
	case "net":
		return float64(b.Net)
	case "soil":
		return float64(b.Soil)
	case "energy_term":
		return float64(b.ET) - b.airTerm(37, 0.34)
	case "air_term":
		return b.airTerm(37, 0.34)
	}
	t.Fatalf("quantity %q of a balance is not known", quantity)
	return 0
}

func (b Balance) resists(surface float64) float64 {
	return float64(b.Slope) + float64(b.Gamma)*(1+surface*float64(b.Wind))
}

func (b Balance) airTerm(aerodynamic, surface float64) float64 {
	return float64(b.Gamma) * aerodynamic / (float64(b.Mean) + 273) * float64(b.Wind) * float64(b.Deficit()) / b.resists(surface)
}

func monthDaylight(month int, latitude float64) float64 {
	var sum float64
	first := time.Date(2023, time.Month(month), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1)
	for d := first; !d.After(last); d = d.AddDate(0, 0, 1) {
		sum += float64(Daylight(d.YearDay(), latitude))
	}
	return sum / float64(last.Day())
}

// stress is the share of a small want that a pot of 1 m² gives: FAO-56's Ks.
func (in inputs) stress() float64 {
	p := in.pot()
	p.Volume = Litres(1000 * in["depth"])
	water, want := p.Holds()-Litres(in["depleted"]), Litres(1e-6)
	return float64((water - p.Used(water, want)) / want)
}

var quantities = map[string]func(in inputs) float64{
	"pressure":        func(in inputs) float64 { return float64(in.pressure()) },
	"gamma":           func(in inputs) float64 { return float64(Psychrometric(in.pressure())) },
	"saturation":      func(in inputs) float64 { return float64(Saturation(in.celsius("t"))) },
	"mean_saturation": func(in inputs) float64 { return float64(MeanSaturation(in.celsius("low"), in.celsius("high"))) },
	"slope":           func(in inputs) float64 { return float64(Slope(in.celsius("t"))) },
	"deficit":         func(in inputs) float64 { return float64(Saturation(in.celsius("t"))) * (1 - in["humidity"]/100) },
	"vapour_extremes": func(in inputs) float64 {
		return float64(VapourFromExtremes(in.celsius("low"), in.celsius("high"), in.percent("driest"), in.percent("dampest")))
	},
	"vapour_dampest": func(in inputs) float64 { return float64(VapourFromDampest(in.celsius("low"), in.percent("dampest"))) },
	"vapour_mean": func(in inputs) float64 {
		return float64(VapourFromMean(in.celsius("low"), in.celsius("high"), in.percent("humidity")))
	},
	"distance":    func(in inputs) float64 { return in.sun().distance },
	"declination": func(in inputs) float64 { return in.sun().declination },
	"sunset":      func(in inputs) float64 { return in.sun().sunset() },
	"above":       func(in inputs) float64 { return float64(Extraterrestrial(int(in["yearday"]), in["latitude"])) },
	"above_mm": func(in inputs) float64 {
		return evaporate * float64(Extraterrestrial(int(in["yearday"]), in["latitude"]))
	},
	"daylight":       func(in inputs) float64 { return float64(Daylight(int(in["yearday"]), in["latitude"])) },
	"month_daylight": func(in inputs) float64 { return monthDaylight(int(in["month"]), in["latitude"]) },
	"long_wave": func(in inputs) float64 {
		return float64(NetLongWave(in.celsius("low"), in.celsius("high"), Kilopascals(in["vapour"]), in["clear"]))
	},
	"short_wave":     func(in inputs) float64 { return float64(NetShortWave(Megajoules(in["light"]))) },
	"net":            func(in inputs) float64 { return float64(NetShortWave(Megajoules(in["light"]))) - in["long"] },
	"evaporate":      func(in inputs) float64 { return evaporate * in["mj"] },
	"light_integral": func(in inputs) float64 { return LightIntegral(in["flux"], Hours(in["hours"])) },
	"light_hours":    func(in inputs) float64 { return float64(LightHours(in["target"], in["flux"])) },
	"moles":          func(in inputs) float64 { return MolesFromLight(Megajoules(in["mj"])) },
	"lasts":          func(in inputs) float64 { return ShineFor(Hours(in["light"])).shortest(in["days"]).Hours() },
	"gives":          func(in inputs) float64 { return float64(in.pot().Gives()) },
	"pot_days":       func(in inputs) float64 { return days(in.pot().Gives(), Litres(in["mm"]*in["space"])) },
	"stress":         func(in inputs) float64 { return in.stress() },
	"factor": func(in inputs) float64 {
		c := Canopy{Full: in["full"], Height: Metres(in["height"]), Start: in["cover"], Days: 1, Mouths: in["mouths"]}
		if bare, given := in["bare"]; given {
			c.Mouths = bare / 1.15
		}
		return c.Factor(0)
	},
	"under_glass": func(in inputs) float64 {
		t := in.celsius("t")
		b := Cover(0.7).under(Balance{Mean: t, Slope: Slope(t), Saturation: Saturation(t), Gamma: Kilopascals(in["gamma"]), Net: Megajoules(in["net"])})
		b.Vapour = b.Saturation * Kilopascals(in["humidity"]/100)
		return float64(b.penmanMonteith())
	},
	"capacity": func(in inputs) float64 {
		return Substrate{Water: in["water"], Air: in["air"], Column: Metres(in["column"])}.Capacity(Metres(in["height"]))
	},
	"fills": func(in inputs) float64 {
		p := Pot{Drinks: UsualDrinks}
		if drinks, given := in["drinks"]; given {
			p.Drinks = time.Duration(drinks * float64(time.Second))
		}
		return p.Fills(time.Duration(in["contact"] * float64(time.Second)))
	},
}

// worked computes the quantity of a row: of a day or an hour of fao56-days.csv,
// or from its own inputs.
func worked(t *testing.T, days map[string]inputs, quantity, given string) float64 {
	t.Helper()
	_, of, found := strings.Cut(quantity, ".")
	if found {
		in, ok := days[strings.TrimPrefix(given, "case=")]
		require.True(t, ok, given)
		b, err := in.location().Reference(in.day())
		require.NoError(t, err)
		return b.of(t, of)
	}
	in := inputs{}
	for _, field := range strings.Fields(given) {
		name, value, _ := strings.Cut(field, "=")
		if name == "case" {
			in = days[value]
			break
		}
		in[name] = number(t, value)
	}
	f := quantities[quantity]
	require.NotNil(t, f, "quantity %q", quantity)
	return f(in)
}

// TestPublishedRows holds every formula to numbers from outside this project.
// Its log counts the rows by source and by how each is known.
func TestPublishedRows(t *testing.T) {
	days := map[string]inputs{}
	for _, row := range table(t, "fao56-days") {
		in := inputs{}
		for name, text := range row {
			if name != "case" && text != "" {
				in[name] = number(t, text)
			}
		}
		days[row["case"]] = in
	}
	count, total := map[string]int{}, 0
	for name, least := range map[string]int{"fao56-examples": 66, "fao56-tables": 137, "fao56-others": 24, "demand-pots": 26, "demand-plants": 49} {
		rows := table(t, name)
		assert.GreaterOrEqual(t, len(rows), least, name)
		for i, row := range rows {
			t.Run(fmt.Sprintf("%s/%d", name, i+2), func(t *testing.T) {
				got := worked(t, days, row["quantity"], row["inputs"])
				assert.InDelta(t, number(t, row["want"]), got, number(t, row["tolerance"]), "%v", row)
			})
			source, _, _ := strings.Cut(row["source"], "(")
			count[strings.TrimSpace(source)+" ["+row["known"]+"]"]++
			total++
		}
	}
	for _, source := range slices.Sorted(maps.Keys(count)) {
		t.Logf("%4d  %s", count[source], source)
	}
	t.Logf("%4d  rows in all", total)
}

func TestEveryFullGrownCropStandsInTable12(t *testing.T) {
	rows := table(t, "fao56-crops")
	assert.Len(t, rows, len(FullGrown))
	for _, row := range rows {
		assert.InDelta(t, number(t, row["mid"]), FullGrown[row["crop"]], 1e-9, row["crop"])
	}
}
