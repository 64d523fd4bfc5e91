package solution

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller/quantity"
)

func draw(t *rapid.T, name string, low, high float64) float64 {
	return rapid.Float64Range(low, high).Draw(t, name)
}

func TestMixingKeepsTheSaltsInBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := quantity.Litres(draw(t, "litres", 1, 1000))
		water := EC(draw(t, "water", 0, 0.8))
		low := water + EC(draw(t, "low", 0.1, 2))
		high := low + EC(draw(t, "more", 0.01, 3))

		add, err := Raise(v, low, high, 150)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(high), float64(Blend(v, low, add, 150)), 1e-9)

		add, err = Dilute(v, high, low, water)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(low), float64(Blend(v, high, add, water)), 1e-9)

		change, err := Replace(v, high, low, water)
		require.NoError(t, err)
		assert.Less(t, change, v)
		assert.InEpsilon(t, float64(low), float64(Blend(v-change, high, change, water)), 1e-9)

		lost := v * quantity.Litres(draw(t, "lost", 0, 0.9))
		left, err := Lose(v, lost, high)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(high), float64(Blend(v-lost, left, lost, 0)), 1e-9, "plain water brings it back")

		with, err := TopUp(v, v/2, low, high, water)
		require.NoError(t, err)
		assert.InEpsilon(t, float64(high), float64(Blend(v/2, low, v/2, with)), 1e-9)
	})
}

// By hand: 200 L at half strength take 200 · 2 mL · 0.5.
func TestTwoPartsAreDosedByLabel(t *testing.T) {
	stock := Stock{Parts: []Part{{"A", 2, "mL"}, {"B", 2.5, "mL"}}}
	amounts, err := stock.Dose(200, 0.5)
	require.NoError(t, err)
	assert.Equal(t, []Amount{{"A", 200, "mL"}, {"B", 250, "mL"}}, amounts)
}

func TestOxygenFallsWithWarmthHeightAndSalt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := quantity.Celsius(draw(t, "celsius", 0, 39))
		z := quantity.Metres(draw(t, "altitude", -500, 4900))
		s := draw(t, "salinity", 0, 39)
		here := func(c quantity.Celsius, z quantity.Metres, s float64) float64 {
			mg, err := Oxygen(c, z, s)
			require.NoError(t, err)
			return mg
		}
		assert.Less(t, here(c+1, z, s), here(c, z, s))
		assert.Less(t, here(c, z+100, s), here(c, z, s))
		assert.Less(t, here(c, z, s+1), here(c, z, s))
	})
}

func TestWhatCannotBeIsRefusedWithTheRange(t *testing.T) {
	nan := math.NaN()
	fails := func(name, says string, f func() error) {
		t.Run(name, func(t *testing.T) { assert.ErrorContains(t, f(), says) })
	}
	raise := func(v quantity.Litres, from, to, stock EC) func() error {
		return func() error { _, err := MixRaise(quantity.Metric, v, from, to, stock); return err }
	}
	fails("no volume", "raise: volume of 0 L cannot be right", raise(0, 1, 2, 100))
	fails("volume not a number", "volume of NaN L", raise(quantity.Litres(nan), 1, 2, 100))
	fails("EC below zero", "between 0 and 50 mS/cm", raise(100, -1, 2, 100))
	fails("EC not a number", "between 0 and 50 mS/cm", raise(100, 1, EC(nan), 100))
	fails("raise downwards", "dilute instead", raise(100, 2, 1, 100))
	fails("weak stock", "has to be stronger", raise(100, 1, 2, 2))
	fails("stock past all salts", "at most 1000 mS/cm", raise(100, 1, 2, 5000))

	dilute := func(from, to, water EC) func() error {
		return func() error { _, err := MixDilute(quantity.Metric, 100, from, to, water); return err }
	}
	fails("dilute upwards", "raise instead", dilute(1, 2, 0.3))
	fails("strong water", "has to be weaker", dilute(2, 1, 1))
	fails("water not a number", "EC of the water", dilute(2, 1, EC(nan)))
	fails("replace with strong water", "replace: water of 1.2", func() error { _, err := Replace(100, 2, 1, 1.2); return err })

	loss := func(v, lost quantity.Litres, ec EC) func() error {
		return func() error { _, err := MixLoss(quantity.Metric, v, lost, ec); return err }
	}
	fails("all lost", "leaves nothing", loss(100, 100, 1))
	fails("gain", "between 0 and", loss(100, -1, 1))

	topUp := func(full, left quantity.Litres, ec, to, water EC) func() error {
		return func() error { _, err := TopUp(full, left, ec, to, water); return err }
	}
	fails("nothing to make up", "nothing to make up", topUp(100, 100, 1, 1, 0))
	fails("too strong for a top-up", "still comes to 1.9: throw a part away", topUp(100, 80, 2.25, 1.5, 0.5))
	fails("make-up past plants", "EC of the make-up", topUp(100, 99, 1, 2, 0.3))

	fails("hot reading", "between 0 °C and 50 °C", func() error { _, err := MixCompensate(quantity.Metric, 1, 51, 0.0191); return err })
	fails("coefficient in percent", "between 0 and 3 %", func() error { _, err := MixCompensate(quantity.Metric, 1, 20, 1.9); return err })
	fails("coefficient alone", "between 0 and 3 %", func() error { _, err := CompensationError(20, -0.1); return err })
	fails("scale", "write 500, 640 or 700", func() error { _, err := Scale(450).PPM(1); return err })
	fails("EC past a scale", "between 0 and 50", func() error { _, err := MixPPM(60); return err })
	fails("ice", "oxygen: temperature of -1 °C", func() error { _, err := MixOxygen(quantity.Metric, -1, 0, 0); return err })
	fails("brine", "between 0 and 40 g/kg", func() error { _, err := MixOxygen(quantity.Metric, 20, 0, 41); return err })
	fails("stratosphere", "between -500 m and 5000 m", func() error { _, err := MixOxygen(quantity.Metric, 20, 12000, 0); return err })
	fails("strength", "strength: strength of 300 % cannot be right: it lies between 0 and 200 %", func() error { _, err := MixStrength(3, 2, 0); return err })
	fails("full below nothing", "EC at full strength of -1 mS/cm", func() error { _, err := MixStrength(1, -1, 0); return err })
	fails("recipe", "potassium nitrate", func() error { _, err := Recipe{{PotassiumNitrate, -1}}.Elements(); return err })
	fails("recipe's EC", "between 0 and 100 mmol/L", func() error { _, err := Recipe{{PotassiumNitrate, 200}}.EC(); return err })
	fails("warmth", "between 0 °C and 50 °C", func() error { _, err := WarmthOf(85); return err })

	one := Stock{Parts: []Part{{"A", 2, "mL"}}}
	fails("no part", "at least one part", func() error { _, err := Stock{}.Dose(1, 1); return err })
	fails("unit", "write mL, g, tsp or fl oz", func() error { _, err := Stock{Parts: []Part{{"A", 1, "oz"}}}.Dose(1, 1); return err })
	fails("dose", `dose of "A"`, func() error { _, err := Stock{Parts: []Part{{"A", 0, "g"}}}.Dose(1, 1); return err })
	fails("twice full", "between 0 and 200 %", func() error { _, err := one.Dose(1, 2.1); return err })
}

func TestNothingToDoIsNoError(t *testing.T) {
	for name, f := range map[string]func() (quantity.Litres, error){
		"raise":   func() (quantity.Litres, error) { return Raise(100, 1, 1, 120) },
		"dilute":  func() (quantity.Litres, error) { return Dilute(100, 1, 1, 1) },
		"replace": func() (quantity.Litres, error) { return Replace(100, 1, 1, 1) },
	} {
		v, err := f()
		require.NoError(t, err, name)
		assert.Zero(t, v, name)
	}
}

// Common practice, no source: 2, 12, 26 and 30 °C.
func TestWarmthIsJudgedAtItsEdges(t *testing.T) {
	for c, want := range map[quantity.Celsius]Warmth{0: TooCold, 2: TooCold, 2.1: Cool, 11.9: Cool, 12: Fine, 25.9: Fine, 26: Warm, 29.9: Warm, 30: Hot, 50: Hot} {
		got, err := WarmthOf(c)
		require.NoError(t, err)
		assert.Equal(t, want, got, "%v °C", c)
		assert.Equal(t, want == Fine, got.Words(quantity.Metric) == "", "%v °C", c)
	}
}

func TestRecipeIsListedAsItIsWeighed(t *testing.T) {
	assert.Equal(t, "0.506 g/L potassium nitrate, 0.493 g/L magnesium sulphate heptahydrate", Recipe{{PotassiumNitrate, 5}, {MagnesiumSulphate, 2}}.String())
}

// Worked by hand: 100·(1.5 − 0.3)/(120 − 1.5); 100·0.5/(1.5 − 0.3);
// 1.5·100/90; Benson and Krause at 26 °C; 1.0/(1 + 0.02·(10 − 25)); 1.2·500.
func TestAnswersGiveValueUnitAndWords(t *testing.T) {
	for name, c := range map[string]struct {
		answer func() (Answer, error)
		value  float64
		unit   string
		says   []string
	}{
		"raise": {func() (Answer, error) { return MixRaise(quantity.Metric, 100, 0.3, 1.5, 120) }, 1.01266, "L",
			[]string{"Add 1.01 L of stock to 100 L: it goes from 0.3 to 1.5 mS/cm.", string(CautionConcentrate)}},
		"raise a little": {func() (Answer, error) { return MixRaise(quantity.Metric, 10, 1.4, 1.5, 120) }, 0.0084388, "L", []string{"Add 8.44 mL of stock"}},
		"dilute": {func() (Answer, error) { return MixDilute(quantity.Metric, 100, 2, 1.5, 0.3) }, 41.6667, "L",
			[]string{"Add 41.7 L of water", "throw 29.4 L away", string(CautionTable)}},
		"strength": {func() (Answer, error) { return MixStrength(0.25, 0, 0.4) }, 0.875, "mS/cm",
			[]string{"Strength 25 % in water of 0.4 mS/cm: the meter should read about 0.88 mS/cm, from 0.8 to 0.95.", "Nothing doses", string(CautionTable)}},
		"strength of a label": {func() (Answer, error) { return MixStrength(0.5, 2, 0.4) }, 1.4, "mS/cm", []string{"about 1.4 mS/cm.", "as you gave it"}},
		"loss":                {func() (Answer, error) { return MixLoss(quantity.Metric, 100, 10, 1.5) }, 1.66667, "mS/cm", []string{"at most 1.67 mS/cm", "back to 1.5 mS/cm"}},
		"oxygen":              {func() (Answer, error) { return MixOxygen(quantity.Metric, 26, 0, 0) }, 8.114, "mg/L", []string{"8.11 mg/L", "water moulds"}},
		"compensate": {func() (Answer, error) { return MixCompensate(quantity.Metric, 1, 10, 0.02) }, 1.42857, "mS/cm",
			[]string{"is 1.429 mS/cm at 25 °C, with 2 % for each °C", "2.9 % too high", "do not do it again"}},
		"compensate in US units": {func() (Answer, error) { return MixCompensate(quantity.US, 1, 10, 0.018) }, 1.36986, "mS/cm",
			[]string{"1 mS/cm at 50 °F is 1.37 mS/cm at 77 °F, with 1 % for each °F."}},
		"compensate low": {func() (Answer, error) { return MixCompensate(quantity.Metric, 1, 35, 0.02) }, 0.83333, "mS/cm", []string{"0.1 % too low"}},
		"ppm": {func() (Answer, error) { return MixPPM(1.2) }, 600, "ppm on the 500 scale",
			[]string{"840 ppm on the 700 scale", "768 ppm on the 640 scale"}},
	} {
		t.Run(name, func(t *testing.T) {
			a, err := c.answer()
			require.NoError(t, err)
			assert.InEpsilon(t, c.value, a.Value, 1e-4)
			assert.Equal(t, c.unit, a.Unit)
			text, err := json.Marshal(a)
			require.NoError(t, err)
			for _, say := range c.says {
				assert.Contains(t, string(text), say)
			}
		})
	}
}
