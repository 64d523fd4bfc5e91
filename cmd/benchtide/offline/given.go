package offline

import "benchtide/controller/quantity"

// litres is a flag such as 180, "30 gal" or "2 qt"; a bare number is in litres.
type litres quantity.Litres

// UnmarshalText reads the flag.
func (l *litres) UnmarshalText(text []byte) (err error) {
	v, err := quantity.VolumeIn(string(text), quantity.Litre)
	*l = litres(v)
	return err
}

// celsius is a flag such as 24 or 75F; a bare number is in °C.
type celsius quantity.Celsius

// UnmarshalText reads the flag.
func (c *celsius) UnmarshalText(text []byte) error {
	v, err := quantity.TemperatureIn(string(text), quantity.DegreeCelsius)
	*c = celsius(v)
	return err
}

// metres is a flag such as 80 or "260 ft"; a bare number is in metres.
type metres quantity.Metres

// UnmarshalText reads the flag.
func (m *metres) UnmarshalText(text []byte) error {
	v, err := quantity.LengthIn(string(text), quantity.Metre)
	*m = metres(v)
	return err
}
