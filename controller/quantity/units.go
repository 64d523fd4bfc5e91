package quantity

// The units of length, volume, flow, temperature and fraction. Sizes are exact
// by definition (NIST SP 811, appendix B); gallon, quart, pint and fluid ounce
// are the US liquid ones.
var (
	Millimetre = Unit[Metres]{Symbol: "mm", Size: 0.001, aliases: []string{"millimetre", "millimetres", "millimeter", "millimeters"}}
	Centimetre = Unit[Metres]{Symbol: "cm", Size: 0.01, aliases: []string{"centimetre", "centimetres", "centimeter", "centimeters"}}
	Metre      = Unit[Metres]{Symbol: "m", Size: 1, aliases: []string{"metre", "metres", "meter", "meters"}}
	Inch       = Unit[Metres]{Symbol: "in", Size: 0.0254, US: true, aliases: []string{"inch", "inches", `"`}}
	Foot       = Unit[Metres]{Symbol: "ft", Size: 0.3048, US: true, aliases: []string{"foot", "feet", "'"}}

	Millilitre = Unit[Litres]{Symbol: "mL", Size: 0.001, aliases: []string{"millilitre", "millilitres", "milliliter", "milliliters"}}
	Litre      = Unit[Litres]{Symbol: "L", Size: 1, aliases: []string{"litre", "litres", "liter", "liters"}}
	FluidOunce = Unit[Litres]{Symbol: "fl oz", Size: 3.785411784 / 128, US: true, aliases: []string{"floz", "fluid ounce", "fluid ounces"}}
	Pint       = Unit[Litres]{Symbol: "pt", Size: 3.785411784 / 8, US: true, aliases: []string{"pint", "pints"}}
	Quart      = Unit[Litres]{Symbol: "qt", Size: 3.785411784 / 4, US: true, aliases: []string{"quart", "quarts"}}
	Gallon     = Unit[Litres]{Symbol: "gal", Size: 3.785411784, US: true, aliases: []string{"gals", "gallon", "gallons", "US gal"}}

	LitrePerHour     = Unit[LitresPerHour]{Symbol: "L/h", Size: 1, aliases: []string{"lph", "L/hr"}}
	LitrePerMinute   = Unit[LitresPerHour]{Symbol: "L/min", Size: 60, aliases: []string{"lpm"}}
	GallonsPerHour   = Unit[LitresPerHour]{Symbol: "gph", Size: 3.785411784, US: true, aliases: []string{"gal/h", "gal/hr"}}
	GallonsPerMinute = Unit[LitresPerHour]{Symbol: "gpm", Size: 60 * 3.785411784, US: true, aliases: []string{"gal/min"}}

	DegreeCelsius    = Unit[Celsius]{Symbol: "C", Size: 1, aliases: []string{"°C"}}
	DegreeFahrenheit = Unit[Celsius]{Symbol: "F", Size: 5.0 / 9, Zero: -160.0 / 9, US: true, aliases: []string{"°F"}}

	Percent = Unit[Fraction]{Symbol: "%", Size: 0.01, aliases: []string{"percent"}}
)

var (
	length = kind[Metres]{noun: "a length", right: right{"30 mm, 3 cm or 1.2 in", "30 mm, 3 cm or 2.4 m", "3 in, 1 1/4 in or 7 ft 6 in"}, adds: true,
		units: []Unit[Metres]{Millimetre, Centimetre, Metre, Inch, Foot}}
	volume = kind[Litres]{noun: "a volume", right: right{"120 L, 350 mL or 20 gal", "120 L or 350 mL", "20 gal, 3 qt or 12 fl oz"}, adds: true,
		units: []Unit[Litres]{Millilitre, Litre, FluidOunce, Pint, Quart, Gallon}}
	flow = kind[LitresPerHour]{noun: "a flow", right: right{"1200 L/h, 20 L/min, 250 gph or 5 gpm", "1200 L/h or 20 L/min", "250 gph or 5 gpm"},
		units: []Unit[LitresPerHour]{LitrePerHour, LitrePerMinute, GallonsPerHour, GallonsPerMinute}}
	temperature = kind[Celsius]{noun: "a temperature", right: right{"24 C or 75 F", "24 C", "75 F"}, signed: true,
		units: []Unit[Celsius]{DegreeCelsius, DegreeFahrenheit}}
	fractions = kind[Fraction]{noun: "a share", right: same("25 %"),
		units: []Unit[Fraction]{Percent}}
	times = kind[seconds]{noun: "a length of time", right: same("10 s, 3.5 min, 48 h, 2 d or 1 h 30 min"), adds: true,
		units: []Unit[seconds]{
			{Symbol: "s", Size: 1, aliases: []string{"sec", "secs", "second", "seconds"}},
			{Symbol: "min", Size: 60, aliases: []string{"mins", "minute", "minutes"}},
			{Symbol: "h", Size: 3600, aliases: []string{"hr", "hrs", "hour", "hours"}},
			{Symbol: "d", Size: 86400, aliases: []string{"day", "days"}},
		}}
)

// ParseLength reads a length such as "30 mm", "3 cm", "2.4 m", "1 1/4 in" or
// "7 ft 6 in". The error quotes the text and says what would be right, in either
// measure or, by Units.Told, in one; so do those of the other functions here. No quantity but a temperature is below zero.
func ParseLength(text string) (Metres, error) { return length.parse(text) }

// ParseVolume reads a volume such as "120 L", "350 mL", "1/2 gal" or "6 fl oz".
func ParseVolume(text string) (Litres, error) { return volume.parse(text) }

// ParseFlow reads a flow such as "1200 L/h", "20 L/min", "250 gph" or "5 gpm".
func ParseFlow(text string) (LitresPerHour, error) { return flow.parse(text) }

// ParseTemperature reads a temperature such as "24 C" or "75 F".
func ParseTemperature(text string) (Celsius, error) { return temperature.parse(text) }

// ParseFraction reads a share of a whole such as "25 %".
func ParseFraction(text string) (Fraction, error) { return fractions.parse(text) }

// LengthIn reads a length whose number may stand alone: then it is in the unit that
// is given.
func LengthIn(text string, bare Unit[Metres]) (Metres, error) { return length.read(text, &bare) }

// VolumeIn reads a volume; see LengthIn.
func VolumeIn(text string, bare Unit[Litres]) (Litres, error) { return volume.read(text, &bare) }

// TemperatureIn reads a temperature; see LengthIn.
func TemperatureIn(text string, bare Unit[Celsius]) (Celsius, error) {
	return temperature.read(text, &bare)
}

// UnitsOf tells in which measure a length, a volume, a flow or a temperature is
// written; it is not known of anything else.
func UnitsOf(text string) (u Units, known bool) {
	all, err := parts(text)
	if err != nil || len(all) == 0 {
		return Metric, false
	}
	for _, us := range []func(string) (bool, bool){length.us, volume.us, flow.us, temperature.us} {
		if is, found := us(all[len(all)-1].symbol); is {
			return US, true
		} else if found {
			return Metric, true
		}
	}
	return Metric, false
}

// us tells whether a unit of this kind is called so, and is one of US measure.
func (k kind[Q]) us(symbol string) (us, found bool) {
	for _, u := range k.units {
		if u.called(symbol) {
			return u.US, true
		}
	}
	return false, false
}

// Lengths, Volumes, Flows, Temperatures, Fractions and Times say how quantities
// of each kind are written.
var (
	Lengths      = length.written()
	Volumes      = volume.written()
	Flows        = flow.written()
	Temperatures = temperature.written()
	Fractions    = fractions.written()
	Times        = times.written()
)
