package quantity_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller/quantity"
)

// The sizes are those of NIST SP 811, appendix B, recomputed with GNU units 2.22.
func TestUnitsHaveTheSizesOfNISTSP811(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
		read func(string) (float64, error)
	}{
		{"1 gal", 3.785411784, volume},
		{"1 qt", 3.785411784 / 4, volume},
		{"1 pt", 3.785411784 / 8, volume},
		{"1 fl oz", 3.785411784 / 128, volume},
		{"231 in", 231 * 0.0254, length},
		{"1 in", 0.0254, length},
		{"1 ft", 0.3048, length},
		{"12 in", 0.3048, length},
		{"1 gph", 3.785411784, flow},
		{"1 gpm", 60 * 3.785411784, flow},
	} {
		got, err := c.read(c.text)
		require.NoError(t, err, c.text)
		assert.InEpsilon(t, c.want, got, 1e-14, c.text)
	}
	// One US gallon is 231 cubic inches: the length and volume units agree.
	inch := float64(quantity.Inch.Size) * 10 // decimetres
	assert.InEpsilon(t, float64(quantity.Gallon.Size), 231*inch*inch*inch, 1e-12)
}

func length(s string) (float64, error)   { q, err := quantity.ParseLength(s); return float64(q), err }
func volume(s string) (float64, error)   { q, err := quantity.ParseVolume(s); return float64(q), err }
func flow(s string) (float64, error)     { q, err := quantity.ParseFlow(s); return float64(q), err }
func fraction(s string) (float64, error) { q, err := quantity.ParseFraction(s); return float64(q), err }
func temperature(s string) (float64, error) {
	q, err := quantity.ParseTemperature(s)
	return float64(q), err
}
func seconds(s string) (float64, error) {
	q, err := quantity.ParseDuration(s)
	return q.Seconds(), err
}

func TestPeopleWriteQuantitiesInManyWays(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
		read func(string) (float64, error)
	}{
		{"30 mm", 0.030, length},
		{"30mm", 0.030, length},
		{"  3 cm ", 0.030, length},
		{"2.4 m", 2.4, length},
		{".5 m", 0.5, length},
		{"4 Feet", 1.2192, length},
		{`1.5"`, 0.0381, length},
		{"350 mL", 0.35, volume},
		{"350 ml", 0.35, volume},
		{"0 L", 0, volume},
		{"20 US gal", 75.70823568, volume},
		{"20 L/min", 1200, flow},
		{"24 C", 24, temperature},
		{"-3 °C", -3, temperature},
		{"32 F", 0, temperature},
		{"212 F", 100, temperature},
		{"-40 F", -40, temperature},
		{"25 %", 0.25, fraction},
		{"25%", 0.25, fraction},
		{"3.5 min", 210, seconds},
		{"10 s", 10, seconds},
		{"48 h", 172800, seconds},
		{"2 d", 172800, seconds},
		{"2 days", 172800, seconds},
		{"1 h 30 min", 5400, seconds},
		{"1h30min", 5400, seconds},
		{"0 s", 0, seconds},
		{"1 1/4 in", 0.03175, length},
		{"1-1/4 in", 0.03175, length},
		{"1¼ in", 0.03175, length},
		{"3/4 in", 0.01905, length},
		{"3/4\"", 0.01905, length},
		{"7 ft 6 in", 2.286, length},
		{"7' 6\"", 2.286, length},
		{"7’6”", 2.286, length},
		{"7 ft 6 1/2 in", 2.2987, length},
		{"7ft. 6in.", 2.286, length},
		{"2 m 40 cm", 2.4, length},
		{"1/2 gal", 1.892705892, volume},
		{"½ gal", 1.892705892, volume},
		{"1 gal 2 qt", 5.678117676, volume},
		{"3 qt", 2.839058838, volume},
		{"1 pt", 0.473176473, volume},
		{"6 fl oz", 0.17744117737, volume},
		{"6 fl. oz.", 0.17744117737, volume},
		{"120\u00a0L", 120, volume},
		{"250 gal/h", 946.352946, flow},
		{"\u22123 C", -3, temperature},
		{"75 °F", 23.888888889, temperature},
	} {
		got, err := c.read(c.text)
		require.NoError(t, err, c.text)
		assert.InDelta(t, c.want, got, 1e-9, c.text)
	}
}

func TestRefusalsQuoteTheTextAndSayWhatIsRight(t *testing.T) {
	for _, c := range []struct {
		text, want string
		read       func(string) (float64, error)
	}{
		{"30", `"30": a length needs a unit: 30 mm, 3 cm or 1.2 in`, length},
		{"30 L", `"30 L": "L" is no unit of a length: 30 mm, 3 cm or 1.2 in`, length},
		{"", `"": no number at the start: a length is written like 30 mm, 3 cm or 1.2 in`, length},
		{"mm", `"mm": no number at the start: a length is written like 30 mm, 3 cm or 1.2 in`, length},
		{"1,5 m", `"1,5 m": decimals take a point: write 1.5 m`, length},
		{"0,28 L", `"0,28 L": decimals take a point: write 0.28 L`, volume},
		{"1,200 L/h", `"1,200 L/h": decimals take a point, and thousands take nothing: write 1.200 L/h or 1200 L/h`, flow},
		{"5, m", `"5, m": decimals take a point, not a comma`, length},
		{"7 ft 6", `"7 ft 6": 6 has no unit: 30 mm, 3 cm or 1.2 in`, length},
		{"6 in 7 ft", `"6 in 7 ft": the larger unit comes first: 30 mm, 3 cm or 1.2 in`, length},
		{"1 m 2 in", `"1 m 2 in": metric and US units stand together: keep to one of the two: 30 mm, 3 cm or 1.2 in`, length},
		{"2 gal 3 qt/h", `"2 gal 3 qt/h": "gal" is no unit of a flow: 1200 L/h, 20 L/min, 250 gph or 5 gpm`, flow},
		{"5 gph 2 gph", `"5 gph 2 gph": write one number and its unit: 1200 L/h, 20 L/min, 250 gph or 5 gpm`, flow},
		{"1/0 in", `"1/0 in": "1/0" is not a number: a length is written like 30 mm, 3 cm or 1.2 in`, length},
		{"1.5 1/4 in", `"1.5 1/4 in": "1.5 1/4" is not a number: a length is written like 30 mm, 3 cm or 1.2 in`, length},
		{"1/2/3 in", `"1/2/3 in": "/" is no unit of a length: 30 mm, 3 cm or 1.2 in`, length},
		{"-0 m", `"-0 m": a length cannot be below zero: 30 mm, 3 cm or 1.2 in`, length},
		{"2 ft -3 in", `"2 ft -3 in": a length cannot be below zero: 30 mm, 3 cm or 1.2 in`, length},
		{"3 oz", `"3 oz": "oz" is no unit of a volume: 120 L, 350 mL or 20 gal`, volume},
		{"1.2.3 m", `"1.2.3 m": "1.2.3" is not a number: a length is written like 30 mm, 3 cm or 1.2 in`, length},
		{"-2 m", `"-2 m": a length cannot be below zero: 30 mm, 3 cm or 1.2 in`, length},
		{"1e3 L", `"1e3 L": a number has no exponent: write it out: 120 L, 350 mL or 20 gal`, volume},
		{"12 L/s", `"12 L/s": "L/s" is no unit of a flow: 1200 L/h, 20 L/min, 250 gph or 5 gpm`, flow},
		{"24", `"24": a temperature needs a unit: 24 C or 75 F`, temperature},
		{"0.25", `"0.25": a share needs a unit: 25 %`, fraction},
		{"5", `"5": a length of time needs a unit: 10 s, 3.5 min, 48 h, 2 d or 1 h 30 min`, seconds},
		{"5 fortnights", `"5 fortnights": "fortnights" is no unit of a length of time: 10 s, 3.5 min, 48 h, 2 d or 1 h 30 min`, seconds},
		{"30 min 1 h", `"30 min 1 h": the larger unit comes first: 10 s, 3.5 min, 48 h, 2 d or 1 h 30 min`, seconds},
		{"-1 h", `"-1 h": a length of time cannot be below zero: 10 s, 3.5 min, 48 h, 2 d or 1 h 30 min`, seconds},
		{"999999999 d", `"999999999 d": a length of time as large as that cannot be right: 10 s, 3.5 min, 48 h, 2 d or 1 h 30 min`, seconds},
	} {
		_, err := c.read(c.text)
		require.EqualError(t, err, c.want)
	}
}

func TestPrintingRoundsToWhatAPersonReads(t *testing.T) {
	assert.Equal(t, "30 mm", quantity.In(quantity.Metres(0.03), quantity.Millimetre))
	assert.Equal(t, "1.181 in", quantity.In(quantity.Metres(0.03), quantity.Inch))
	assert.Equal(t, "120.3 L", quantity.In(quantity.Litres(120.34), quantity.Litre))
	assert.Equal(t, "20 gal", quantity.In(quantity.Litres(75.70823568), quantity.Gallon))
	assert.Equal(t, "1234 L/h", quantity.In(quantity.LitresPerHour(1234.4), quantity.LitrePerHour))
	assert.Equal(t, "75.2 F", quantity.In(quantity.Celsius(24), quantity.DegreeFahrenheit))
	assert.Equal(t, "25 %", quantity.In(quantity.Fraction(0.25), quantity.Percent))
	assert.Equal(t, "0 s", quantity.Duration(0))
	assert.Equal(t, "3 min 30 s", quantity.Duration(210*time.Second))
	assert.Equal(t, "48 h", quantity.Duration(48*time.Hour))
	assert.Equal(t, "-2 s", quantity.Duration(-2*time.Second))
}

func TestWhatIsPrintedReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := quantity.Litres(rapid.Float64Range(0, 1e6).Draw(t, "litres"))
		for _, u := range []quantity.Unit[quantity.Litres]{quantity.Millilitre, quantity.Litre, quantity.Gallon} {
			back, err := quantity.ParseVolume(quantity.In(q, u))
			require.NoError(t, err)
			assert.InDelta(t, float64(q), float64(back), 1e-3*float64(q)+1e-9)
		}
		d := time.Duration(rapid.Int64Range(0, 1e6).Draw(t, "seconds")) * time.Second
		back, err := quantity.ParseDuration(quantity.Duration(d))
		require.NoError(t, err)
		assert.Equal(t, d, back)
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"30 mm", "1.2 in", "20 gal", "75 F", "25 %", "1 h 30 min", "1e999 m", "+", "", "9 d9 d", "٣ m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, read := range []func(string) (float64, error){length, volume, flow, fraction, seconds} {
			if q, err := read(text); err == nil && (!(q >= 0) || math.IsInf(q, 0)) {
				t.Errorf("%q reads as %v", text, q)
			}
		}
		if q, err := temperature(text); err == nil && (math.IsNaN(q) || math.IsInf(q, 0)) {
			t.Errorf("%q reads as %v", text, q)
		}
	})
}

func TestANumberAloneHasTheUnitThatIsGiven(t *testing.T) {
	for text, want := range map[string]float64{"180": 180, "30 gal": 113.56235352, "0.5": 0.5, "1 1/2": 1.5} {
		got, err := quantity.VolumeIn(text, quantity.Litre)
		require.NoError(t, err, text)
		assert.InDelta(t, want, float64(got), 1e-9, text)
	}
	for text, want := range map[string]float64{"75F": 23.888888889, "24": 24, "-3": -3} {
		got, err := quantity.TemperatureIn(text, quantity.DegreeCelsius)
		require.NoError(t, err, text)
		assert.InDelta(t, want, float64(got), 1e-9, text)
	}
	_, err := quantity.VolumeIn("1 gal 2", quantity.Litre)
	require.EqualError(t, err, `"1 gal 2": 2 has no unit: 120 L, 350 mL or 20 gal`)
}
