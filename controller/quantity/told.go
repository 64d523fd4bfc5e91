package quantity

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Mistake is what is wrong with a quantity. Its figures and examples can be told in
// the units that people read; see Units.Told.
type Mistake struct {
	either string // where nobody knows who reads it
	in     func(Units) string
}

// Mistaken is a mistake that say tells; where nobody knows who reads it, in metric
// units.
func Mistaken(say func(Units) string) error { return &Mistake{say(Metric), say} }

func (m *Mistake) Error() string { return m.either }

// warmths is a mistake with temperatures, of a package that knows no units.
type warmths interface {
	error
	InDegrees(say func(celsius float64) string) string
}

// Told is what an error says to people who read these units.
func (u Units) Told(err error) string {
	text := err.Error()
	if m, found := errors.AsType[*Mistake](err); found {
		text = strings.Replace(text, m.Error(), m.in(u), 1)
	}
	var w warmths
	if errors.As(err, &w) {
		text = strings.Replace(text, w.Error(), w.InDegrees(func(t float64) string { return u.Temperature(Celsius(t)) }), 1)
	}
	return text
}

var metricFigures = regexp.MustCompile(`(-?\d+(?:\.\d+)?)(?: to (-?\d+(?:\.\d+)?))? ?(mm|cm|mL/L|mL|m|L/h|L/min|L|°C|C)\b`)

// Example is a text with examples in metric units, in the units that people read:
// as large in round figures, so for examples alone and no limits.
func (u Units) Example(text string) string {
	if u == Metric {
		return text
	}
	return metricFigures.ReplaceAllStringFunc(text, func(written string) string {
		m := metricFigures.FindStringSubmatch(written)
		n := func(figure string) float64 { x, _ := strconv.ParseFloat(figure, 64); return x }
		said := u.example(n(m[1]), m[3])
		if m[2] == "" {
			return said
		}
		number, unit, _ := strings.Cut(said, " ")
		most := u.example(n(m[2]), m[3])
		if strings.HasSuffix(most, " "+unit) {
			return number + " to " + most
		}
		return said + " to " + most
	})
}

func (u Units) example(n float64, unit string) string {
	switch unit {
	case "mm", "cm", "m":
		return u.AboutLength(Metres(n) * map[string]Metres{"mm": 0.001, "cm": 0.01, "m": 1}[unit])
	case "L":
		return u.AboutVolume(Litres(n))
	case "mL":
		return u.AboutVolume(Litres(n / 1000))
	case "mL/L":
		return about(n*float64(Gallon.Size)) + " mL/gal"
	case "L/h":
		return u.AboutFlow(LitresPerHour(n))
	case "L/min":
		return about(n/float64(Gallon.Size)) + " gpm"
	}
	return decimal(float64((Celsius(n)-DegreeFahrenheit.Zero)/DegreeFahrenheit.Size), 0) + strings.Replace(" "+unit, "C", "F", 1)
}

// AboutLength is a length as a rule of thumb says it: "20 mm", "3/4 in", "65 ft".
func (u Units) AboutLength(m Metres) string {
	x := float64(m / Inch.Size)
	switch {
	case u == Metric:
		return u.Size(m)
	case x == 0:
		return "0 " + Foot.Symbol
	case x < 0.75:
		return u.Mark(Metres(math.Max(1, math.Round(x*16))/16) * Inch.Size)
	case x < 4:
		return u.Mark(Metres(math.Round(x*4)/4) * Inch.Size)
	case x < 12:
		return u.Mark(Metres(math.Round(x*2)/2) * Inch.Size)
	case x < 60:
		return u.Mark(Metres(math.Round(x)) * Inch.Size)
	case x < 180:
		return u.Mark(Metres(math.Round(x/6)*6) * Inch.Size)
	}
	return about(x/12) + " ft"
}

// AboutVolume is a volume as a rule of thumb says it: "5000 L", "1300 gal".
func (u Units) AboutVolume(l Litres) string {
	switch {
	case u == Metric && l < 0.1:
		return u.Dose(l)
	case u == Metric:
		return u.Volume(l)
	case l < FluidOunce.Size:
		return decimal(math.Max(1, math.Round(float64(l/FluidOunce.Size)*10))/10, 1) + " fl oz"
	case l < Gallon.Size/2:
		return about(float64(l/FluidOunce.Size)) + " fl oz"
	}
	return about(float64(l/Gallon.Size)) + " gal"
}

// AboutFlow is a flow as a rule of thumb says it: "1200 L/h", "320 gph".
func (u Units) AboutFlow(q LitresPerHour) string {
	if u == Metric {
		return u.Flow(q)
	}
	return about(float64(q/GallonsPerHour.Size)) + " gph"
}

// about is a figure to two of its figures, from 10 on a whole one.
func about(x float64) string {
	if x < 10 {
		return decimal(x, 1)
	}
	step := math.Pow10(max(0, int(math.Floor(math.Log10(x)))-1))
	return fmt.Sprintf("%.0f", math.Round(x/step)*step)
}
