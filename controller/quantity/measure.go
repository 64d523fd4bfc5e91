package quantity

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Units is the measure that people read at a site: each kind of quantity as they
// say it there, with no more figures than they can act on. A figure that was given
// with one figure more keeps it. The zero value is metric.
type Units uint8

// The measures.
const (
	Metric Units = iota
	US           // US customary
)

// ParseUnits reads the word for a measure, metric or us.
func ParseUnits(word string) (Units, error) {
	for _, u := range []Units{Metric, US} {
		if word == u.String() {
			return u, nil
		}
	}
	return Metric, fmt.Errorf("%q: write metric or us", word)
}

// String is the word for the measure in the file: metric or us.
func (u Units) String() string {
	if u == US {
		return "us"
	}
	return "metric"
}

// MarshalText writes the word, for JSON.
func (u Units) MarshalText() ([]byte, error) { return []byte(u.String()), nil }

// UnmarshalText reads it.
func (u *Units) UnmarshalText(text []byte) (err error) {
	*u, err = ParseUnits(string(text))
	return err
}

// in is q in one unit or the other.
func in[Q ~float64](u Units, q Q, metric, us Unit[Q]) (float64, string) {
	unit := metric
	if u == US {
		unit = us
	}
	return float64((q - unit.Zero) / unit.Size), unit.Symbol
}

// Depth is a height of water, as it is worked out: "41 mm", "1.6 in".
func (u Units) Depth(m Metres) string {
	x, symbol := in(u, m, Millimetre, Inch)
	decimals := 0
	if size := math.Abs(x); u == US && size < 1 {
		decimals = 2
	} else if size < 10 || u == US && size < 100 {
		decimals = 1
	}
	return decimal(x, decimals) + " " + symbol
}

// HeightUnit is the unit of a table or a picture of heights of water: mm, or in.
func (u Units) HeightUnit() Unit[Metres] {
	if u == US {
		return Inch
	}
	return Millimetre
}

// Mark is a short length as it is read off a rule or a tape: "26 mm", "1 1/4 in".
func (u Units) Mark(m Metres) string {
	x, symbol := in(u, m, Millimetre, Inch)
	switch {
	case u == Metric:
		return decimal(x, 1) + " mm"
	case math.Abs(x) >= 12-halfMark:
		return feet(x)
	case onMark(x):
		return taped(x) + " " + symbol
	case math.Abs(x) >= 10 || near(x, 1):
		return decimal(x, 1) + " " + symbol
	}
	return decimal(x, 2) + " " + symbol
}

// Within is a length that must not be passed, down to what can be read off a tape.
func (u Units) Within(m Metres) string {
	if u == US {
		m = Metres(math.Floor(float64(m/Inch.Size)*marks)/marks) * Inch.Size
	}
	return u.Mark(m)
}

// Span is a length of table, hose or lift: "2.4 m", "7 ft 6 in".
func (u Units) Span(m Metres) string {
	if u == US {
		return u.Mark(m)
	}
	return metres(float64(m))
}

// Size is a length of any kind, small or large.
func (u Units) Size(m Metres) string {
	if m >= 1 {
		return u.Span(m)
	}
	return u.Mark(m)
}

// Head is how high a pump lifts: "1.2 m", "3.9 ft".
func (u Units) Head(m Metres) string {
	x, symbol := in(u, m, Metre, Foot)
	if u == US && math.Abs(x) < 99.95 {
		return decimal(x, 1) + " " + symbol
	} else if u == US {
		return decimal(x, 0) + " " + symbol
	}
	return metres(x)
}

// metres is a length in metres, to the centimetre below 10 m.
func metres(x float64) string {
	decimals := 2
	switch size := math.Abs(x); {
	case size >= 99.95:
		decimals = 0
	case size >= 9.995:
		decimals = 1
	}
	return decimal(x, decimals) + " m"
}

// Volume is one of water: "117 L", "8.5 L", "0.85 L"; "31 gal", "2.3 gal", "28 fl oz".
func (u Units) Volume(l Litres) string {
	x, symbol := u.volume(l, l)
	return volumeFigure(x, symbol) + " " + symbol
}

// Reckoned is a volume that was worked out, and perhaps rounded since: as of Volume,
// with no figure more.
func (u Units) Reckoned(l Litres) string { return u.Beside(l, l) }

// Beside is a volume that was worked out, in the unit of a larger one that stands
// beside it.
func (u Units) Beside(l, like Litres) string {
	x, symbol := u.volume(l, like)
	return reckonedFigure(x, symbol) + " " + symbol
}

func reckonedFigure(x float64, symbol string) string {
	size := math.Abs(x)
	switch {
	case size >= 9.95 || symbol == FluidOunce.Symbol:
		return decimal(x, 0)
	case size >= 0.995:
		return decimal(x, 1)
	}
	return decimal(x, 2)
}

// Weighed is a volume as weighings tell it, to a litre or a few parts of a gallon:
// "4 L", "0.9 gal".
func (u Units) Weighed(l Litres) string {
	x, symbol := in(u, l, Litre, Gallon)
	if u == US && math.Abs(x) < 9.95 {
		return decimal(x, 1) + " " + symbol
	}
	return decimal(x, 0) + " " + symbol
}

// Volumes is a span of volumes, joined by a word: "110 to 125 L".
func (u Units) Volumes(from Litres, word string, to Litres) string {
	least, symbol := u.volume(from, max(from, to))
	most, _ := u.volume(to, max(from, to))
	return volumeFigure(least, symbol) + " " + word + " " + volumeFigure(most, symbol) + " " + symbol
}

// Listed are volumes in one unit, that of the largest: "0.4, 1.2, 3.1 L"; "4, 16, 24 fl oz".
func (u Units) Listed(all ...Litres) string {
	var figures []string
	_, symbol := u.volume(0, slices.Max(all))
	for _, l := range all {
		x, _ := u.volume(l, slices.Max(all))
		figures = append(figures, reckonedFigure(x, symbol))
	}
	return strings.Join(figures, ", ") + " " + symbol
}

// VolumeUnit is the name of the unit of a table of volumes, and VolumeIn the figure
// in it: L, or gal.
func (u Units) VolumeUnit() string { return u.volumeUnit().Symbol }

// VolumeIn is a volume in VolumeUnit.
func (u Units) VolumeIn(l Litres) float64 { return float64(l / u.volumeUnit().Size) }

func (u Units) volumeUnit() Unit[Litres] {
	if u == US {
		return Gallon
	}
	return Litre
}

// volume is l in the unit in which a volume as large as like is said. A glass of
// water is no part of a gallon that people know.
func (u Units) volume(l, like Litres) (float64, string) {
	if size := Litres(math.Abs(float64(like))); u == US && size > 0 && size < Gallon.Size/2 {
		return float64(l / FluidOunce.Size), FluidOunce.Symbol
	}
	return in(u, l, Litre, Gallon)
}

func volumeFigure(x float64, symbol string) string {
	size := math.Abs(x)
	switch {
	case size >= 9.95:
		return sensible(x, 0)
	case size >= 0.995 || symbol == FluidOunce.Symbol:
		return sensible(x, 1)
	}
	return sensible(x, 2)
}

// Least is a volume that has to be reached, and Most one that must not be passed:
// to whole units, on the safe side.
func (u Units) Least(l Litres) string { return u.whole(l, math.Ceil) }

// Most is the other end; see Least.
func (u Units) Most(l Litres) string { return u.whole(l, math.Floor) }

func (u Units) whole(l Litres, round func(float64) float64) string {
	x, symbol := in(u, l, Litre, Gallon)
	if x < 10 {
		return decimal(round(x*10)/10, 1) + " " + symbol
	}
	return decimal(round(x), 0) + " " + symbol
}

// Pot is what a pot holds: "0.35 L", "12 fl oz".
func (u Units) Pot(l Litres) string {
	if x := float64(l / FluidOunce.Size); u == US && x < 128 {
		return sensible(x, 0) + " " + FluidOunce.Symbol
	}
	return u.Volume(l)
}

// Dose is a small volume of concentrate: "850 mL", "29 fl oz".
func (u Units) Dose(l Litres) string {
	if u == Metric && l < 1 {
		return significant(float64(l/Millilitre.Size)) + " " + Millilitre.Symbol
	}
	return u.Volume(l)
}

// Measured is a volume that a person measures out, to three figures: "765 mL",
// "1.01 L", "41.7 L"; "25.9 fl oz", "1.01 gal", "1.4 tsp".
func (u Units) Measured(l Litres) string {
	x, symbol := u.volume(l, l)
	switch {
	case u == US && l > 0 && l < FluidOunce.Size:
		return about(6*x) + " tsp" // six to a fluid ounce
	case u == US || l >= 1 || l == 0:
		return significant(x) + " " + symbol
	}
	return u.Dose(l)
}

// Flow is one of water: "1280 L/h", "338 gal/h".
func (u Units) Flow(q LitresPerHour) string {
	x, _ := in(u, q, LitrePerHour, GallonsPerHour)
	if u == US {
		return significant(x) + " gal/h"
	}
	return significant(x) + " L/h"
}

// Temperature is one in whole degrees, or to the tenth where it was given so in the
// units of the site: "21 °C", "70 °F", "70.5 °F".
func (u Units) Temperature(t Celsius) string {
	x, symbol := in(u, t, DegreeCelsius, DegreeFahrenheit)
	if u == US && near(float64(t), 1) {
		return decimal(x, 0) + " °" + symbol
	}
	return sensible(x, 0) + " °" + symbol
}

// Thermometer is a temperature that was read, in whole degrees.
func (u Units) Thermometer(t Celsius) string {
	x, symbol := in(u, t, DegreeCelsius, DegreeFahrenheit)
	return decimal(x, 0) + " °" + symbol
}

// Temperatures is a span of temperatures: "10 to 18 °C".
func (u Units) Temperatures(from, to Celsius) string {
	least, symbol := in(u, from, DegreeCelsius, DegreeFahrenheit)
	most, _ := in(u, to, DegreeCelsius, DegreeFahrenheit)
	return sensible(least, 0) + " to " + sensible(most, 0) + " °" + symbol
}

// Load is what weighs on a table, given in kg/m²: "41 kg/m²", "8.3 lb/ft²".
func (u Units) Load(kgPerSquareMetre float64) string {
	x, symbol := kgPerSquareMetre, "kg/m²"
	if u == US {
		x, symbol = x/poundPerSquareFoot, "lb/ft²"
	}
	if math.Abs(x) < 9.95 {
		return sensible(x, 1) + " " + symbol
	}
	return sensible(x, 0) + " " + symbol
}

// poundPerSquareFoot is 1 lb/ft² in kg/m²: 0.45359237 kg over 0.09290304 m² (NIST
// SP 811, appendix B).
const poundPerSquareFoot = 0.45359237 / 0.09290304

// Area is "2.88 m²" or "31 ft²".
func (u Units) Area(a SquareMetres) string {
	if u == US {
		return significant(float64(a)/(0.3048*0.3048)) + " ft²"
	}
	return significant(float64(a)) + " m²"
}

// Lengths of less than a foot are read off a tape in sixteenths of an inch.
const (
	marks    = 16
	halfMark = 0.5 / marks
)

// onMark tells whether so many inches are a mark of a tape, as far as what was
// written and what is worked out can tell.
func onMark(inches float64) bool {
	return math.Abs(inches*marks-math.Round(inches*marks)) < 0.001
}

// taped is a length in inches with the fraction of the nearest mark: "1 1/4".
func taped(inches float64) string {
	n := int(math.Round(math.Abs(inches) * marks))
	sign := ""
	if inches < 0 && n > 0 {
		sign = "-"
	}
	whole, top, bottom := n/marks, n%marks, marks
	for top > 0 && top%2 == 0 {
		top, bottom = top/2, bottom/2
	}
	switch {
	case top == 0:
		return sign + strconv.Itoa(whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d", sign, top, bottom)
	}
	return fmt.Sprintf("%s%d %d/%d", sign, whole, top, bottom)
}

// feet is a length of a foot and more in feet and inches, to the half inch unless
// it was read more finely.
func feet(inches float64) string {
	if !onMark(inches) {
		inches = math.Round(inches*2) / 2
	}
	sign := ""
	if inches < 0 {
		sign, inches = "-", -inches
	}
	whole := math.Floor((inches + halfMark) / 12)
	rest := taped(max(0, inches-12*whole))
	if rest == "0" {
		return fmt.Sprintf("%s%.0f ft", sign, whole)
	}
	return fmt.Sprintf("%s%.0f ft %s in", sign, whole, rest)
}

// sensible is a figure to so many decimals, or to one more where it was given so
// and three figures are enough for it.
func sensible(x float64, decimals int) string {
	if near(x, decimals+1) && math.Abs(x) < 100 {
		decimals++
	}
	return decimal(x, decimals)
}

// near tells whether a figure has no more than so many decimals.
func near(x float64, decimals int) bool {
	x *= math.Pow10(decimals)
	return math.Abs(x-math.Round(x)) < 1e-6
}

// decimal is a figure to so many decimals, noughts at its end left out.
func decimal(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// significant is a figure to three of its figures; a whole one stays.
func significant(x float64) string {
	if near(x, 0) {
		return decimal(x, 0)
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		rounded = x
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
