package quantity

// The units of length, volume, flow, temperature and fraction. Sizes are exact
// by definition (NIST SP 811, appendix B); a gallon is the US liquid gallon.
var (
	Millimetre = Unit[Metres]{Symbol: "mm", Size: 0.001}
	Centimetre = Unit[Metres]{Symbol: "cm", Size: 0.01}
	Metre      = Unit[Metres]{Symbol: "m", Size: 1}
	Inch       = Unit[Metres]{Symbol: "in", Size: 0.0254, aliases: []string{"inch", "inches", `"`}}
	Foot       = Unit[Metres]{Symbol: "ft", Size: 0.3048, aliases: []string{"foot", "feet", "'"}}

	Millilitre = Unit[Litres]{Symbol: "mL", Size: 0.001}
	Litre      = Unit[Litres]{Symbol: "L", Size: 1, aliases: []string{"litre", "litres", "liter", "liters"}}
	Gallon     = Unit[Litres]{Symbol: "gal", Size: 3.785411784, aliases: []string{"gallon", "gallons", "US gal"}}

	LitrePerHour     = Unit[LitresPerHour]{Symbol: "L/h", Size: 1, aliases: []string{"lph"}}
	LitrePerMinute   = Unit[LitresPerHour]{Symbol: "L/min", Size: 60, aliases: []string{"lpm"}}
	GallonsPerHour   = Unit[LitresPerHour]{Symbol: "gph", Size: 3.785411784, aliases: []string{"gal/h"}}
	GallonsPerMinute = Unit[LitresPerHour]{Symbol: "gpm", Size: 60 * 3.785411784, aliases: []string{"gal/min"}}

	DegreeCelsius    = Unit[Celsius]{Symbol: "C", Size: 1, aliases: []string{"°C"}}
	DegreeFahrenheit = Unit[Celsius]{Symbol: "F", Size: 5.0 / 9, Zero: -160.0 / 9, aliases: []string{"°F"}}

	Percent = Unit[Fraction]{Symbol: "%", Size: 0.01}
)

var (
	length = kind[Metres]{noun: "a length", right: "30 mm, 3 cm or 1.2 in",
		units: []Unit[Metres]{Millimetre, Centimetre, Metre, Inch, Foot}}
	volume = kind[Litres]{noun: "a volume", right: "120 L, 350 mL or 20 gal",
		units: []Unit[Litres]{Millilitre, Litre, Gallon}}
	flow = kind[LitresPerHour]{noun: "a flow", right: "1200 L/h, 20 L/min, 250 gph or 5 gpm",
		units: []Unit[LitresPerHour]{LitrePerHour, LitrePerMinute, GallonsPerHour, GallonsPerMinute}}
	temperature = kind[Celsius]{noun: "a temperature", right: "24 C or 75 F", signed: true,
		units: []Unit[Celsius]{DegreeCelsius, DegreeFahrenheit}}
	fraction = kind[Fraction]{noun: "a share", right: "25 %",
		units: []Unit[Fraction]{Percent}}
)

// ParseLength reads a length such as "30 mm", "3 cm", "2.4 m", "1.2 in" or
// "4 ft". The error quotes the text and says what would be right; so do those
// of the other Parse functions. No quantity but a temperature is below zero.
func ParseLength(text string) (Metres, error) { return length.parse(text) }

// ParseVolume reads a volume such as "120 L", "350 mL" or "20 gal".
func ParseVolume(text string) (Litres, error) { return volume.parse(text) }

// ParseFlow reads a flow such as "1200 L/h", "20 L/min", "250 gph" or "5 gpm".
func ParseFlow(text string) (LitresPerHour, error) { return flow.parse(text) }

// ParseTemperature reads a temperature such as "24 C" or "75 F".
func ParseTemperature(text string) (Celsius, error) { return temperature.parse(text) }

// ParseFraction reads a share of a whole such as "25 %".
func ParseFraction(text string) (Fraction, error) { return fraction.parse(text) }
