package quantity_test

import (
	"math"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller/quantity"
)

func TestPeopleReadWhatTheySayWithFiguresTheyCanUse(t *testing.T) {
	inch, foot, gal := quantity.Inch.Size, quantity.Foot.Size, quantity.Gallon.Size
	for _, c := range []struct{ metric, us, wantMetric, wantUS string }{
		{m.Depth(0.04065), us.Depth(0.04065), "41 mm", "1.6 in"},
		{m.Depth(0.0026412), us.Depth(0.0026412), "2.6 mm", "0.1 in"},
		{m.Depth(0.0062), us.Depth(0.0062), "6.2 mm", "0.24 in"},
		{m.Depth(0.2), us.Depth(0.2), "200 mm", "7.9 in"},
		{m.Mark(0.030), us.Mark(0.030), "30 mm", "1.18 in"},
		{m.Mark(1.25 * inch), us.Mark(1.25 * inch), "31.8 mm", "1 1/4 in"},
		{m.Mark(0.75 * inch), us.Mark(0.75 * inch), "19 mm", "3/4 in"},
		{m.Mark(1.2 * inch), us.Mark(1.2 * inch), "30.5 mm", "1.2 in"},
		{m.Mark(3 * inch), us.Mark(3 * inch), "76.2 mm", "3 in"},
		{m.Mark(11.97 * inch), us.Mark(11.97 * inch), "304 mm", "1 ft"},
		{m.Mark(0), us.Mark(0), "0 mm", "0 in"},
		{m.Span(8 * foot), us.Span(8 * foot), "2.44 m", "8 ft"},
		{m.Span(7.5 * foot), us.Span(7.5 * foot), "2.29 m", "7 ft 6 in"},
		{m.Span(2.4), us.Span(2.4), "2.4 m", "7 ft 10 1/2 in"},
		{m.Span(2.99 * foot), us.Span(2.99 * foot), "0.91 m", "3 ft"},
		{m.Size(0.6), us.Size(0.6), "600 mm", "1 ft 11 1/2 in"},
		{m.Head(0.8), us.Head(0.8), "0.8 m", "2.6 ft"},
		{m.Volume(117.34), us.Volume(117.34), "117 L", "31 gal"},
		{m.Volume(30 * gal), us.Volume(30 * gal), "114 L", "30 gal"},
		{m.Volume(12.5), us.Volume(12.5), "12.5 L", "3.3 gal"},
		{m.Volume(8.4321), us.Volume(8.4321), "8.4 L", "2.2 gal"},
		{m.Volume(0.8512), us.Volume(0.8512), "0.85 L", "29 fl oz"},
		{m.Volume(8.97), us.Volume(8.97), "8.97 L", "2.4 gal"},
		{m.Volume(9.9712), us.Volume(9.9712), "10 L", "2.6 gal"},
		{m.Volume(0), us.Volume(0), "0 L", "0 gal"},
		{m.Reckoned(20.7), us.Reckoned(20.7), "21 L", "5.5 gal"},
		{m.Reckoned(7.02), us.Reckoned(0.702), "7 L", "24 fl oz"},
		{m.Thermometer(21.4), us.Thermometer(21.4), "21 °C", "71 °F"},
		{m.Measured(41.667), us.Measured(41.667), "41.7 L", "11 gal"},
		{m.Measured(0.7647), us.Measured(3.785411784), "765 mL", "1 gal"},
		{m.Weighed(3.46), us.Weighed(3.46), "3 L", "0.9 gal"},
		{m.Weighed(46.3), us.Weighed(46.3), "46 L", "12 gal"},
		{m.Volumes(3, "and", 130.4), us.Volumes(3, "and", 130.4), "3 and 130 L", "0.79 and 34 gal"},
		{m.Listed(0.36, 12.2, 4.13), us.Listed(0.12, 0.48, 0.62), "0.36, 12, 4.1 L", "4, 16, 21 fl oz"},
		{m.Listed(0, 0), us.Listed(0.6, 2.1), "0, 0 L", "0.16, 0.55 gal"},
		{m.Least(88.2), us.Least(88.2), "89 L", "24 gal"},
		{m.Most(88.9), us.Most(88.9), "88 L", "23 gal"},
		{m.Pot(0.35), us.Pot(0.35), "0.35 L", "12 fl oz"},
		{m.Dose(0.8512), us.Dose(0.8512), "851 mL", "29 fl oz"},
		{m.Flow(1283.4), us.Flow(1283.4), "1280 L/h", "339 gal/h"},
		{m.Flow(500 * 3.785411784), us.Flow(500 * 3.785411784), "1890 L/h", "500 gal/h"},
		{m.Temperature(21.111111111111114), us.Temperature(21.111111111111114), "21 °C", "70 °F"},
		{m.Temperature(21.5), us.Temperature(21.5), "21.5 °C", "71 °F"},
		{m.Temperature(21.38889), us.Temperature((70.5 - 32) / 1.8), "21 °C", "70.5 °F"},
		{m.Temperature(31), us.Temperature(31), "31 °C", "88 °F"},
		{m.Measured(0.00673), us.Measured(0.00673), "6.73 mL", "1.4 tsp"},
		{m.Measured(0.7647), us.Measured(0.7647), "765 mL", "25.9 fl oz"},
		{m.Within(0.05), us.Within(0.05), "50 mm", "1 15/16 in"},
		{m.Temperature(-17.9), us.Temperature(-17.9), "-17.9 °C", "0 °F"},
		{m.Temperature(-17.78), us.Temperature(-17.78), "-18 °C", "0 °F"},
		{m.Load(40.65), us.Load(40.65), "41 kg/m²", "8.3 lb/ft²"},
		{m.Area(2.88), us.Area(2.88), "2.88 m²", "31 ft²"},
	} {
		assert.Equal(t, c.wantMetric, c.metric)
		assert.Equal(t, c.wantUS, c.us)
	}
}

const m, us = quantity.Metric, quantity.US

var figures = regexp.MustCompile(`\d+(\.\d+)?`)

// A figure with a point has three figures at most, whatever the quantity, and what
// is printed reads back as what was meant, to the figures that are shown.
func TestNoFigureIsFinerThanItsSpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]quantity.Units{m, us}).Draw(t, "units")
		x := math.Exp(rapid.Float64Range(-7, 9).Draw(t, "size"))
		for _, text := range []string{u.Depth(quantity.Metres(x)), u.Head(quantity.Metres(x)), u.Volume(quantity.Litres(x)), u.Pot(quantity.Litres(x)),
			u.Dose(quantity.Litres(x)), u.Flow(quantity.LitresPerHour(x)), u.Temperature(quantity.Celsius(x)), u.Load(x), u.Area(quantity.SquareMetres(x))} {
			for _, n := range figures.FindAllString(text, -1) {
				if regexp.MustCompile(`\.`).MatchString(n) && x < 100 {
					significant := regexp.MustCompile(`^[0.]+|\.`).ReplaceAllString(n, "")
					assert.LessOrEqual(t, len(significant), 3, text)
				}
			}
		}
		back, err := quantity.ParseVolume(u.Volume(quantity.Litres(x)))
		require.NoError(t, err)
		assert.InDelta(t, x, float64(back), 0.06*x+0.006)
		length, err := quantity.ParseLength(u.Mark(quantity.Metres(x)))
		require.NoError(t, err)
		assert.InDelta(t, x, float64(length), 0.0065)
	})
}

func TestUnitsHaveAWord(t *testing.T) {
	for _, u := range []quantity.Units{m, us} {
		read, err := quantity.ParseUnits(u.String())
		require.NoError(t, err)
		assert.Equal(t, u, read)
	}
	_, err := quantity.ParseUnits("imperial")
	require.EqualError(t, err, `"imperial": write metric or us`)
	assert.Equal(t, m, quantity.Units(0))
}
