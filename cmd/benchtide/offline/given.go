package offline

import (
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/quantity"
)

// siteUnits is the flag that names the site in whose units people read an answer.
type siteUnits struct {
	Config string `short:"c" placeholder:"FILE" help:"The site's file, in whose units the answer is; ./bench.yaml where there is one."`
}

// units are those of the site; metric where no file says otherwise. The error is a
// cli.UsageError of a file that was named and cannot be read.
func (f siteUnits) units() (quantity.Units, error) {
	path := f.Config
	if path == "" {
		path = cli.UsualFile
	}
	data, err := cli.ReadFile(path, "the site's file")
	if err != nil && f.Config == "" {
		return quantity.Metric, nil
	}
	return config.UnitsOf(data), err
}

// units is in which units somebody wrote a flag; nothing is known of a bare number.
type units struct {
	of    quantity.Units
	known bool
}

func (u *units) read(text []byte) { u.of, u.known = quantity.UnitsOf(string(text)) }

// litres is a flag such as 180, "30 gal" or "2 qt"; a bare number is in litres.
type litres struct {
	quantity.Litres
	units
}

// UnmarshalText reads the flag.
func (l *litres) UnmarshalText(text []byte) (err error) {
	l.read(text)
	l.Litres, err = quantity.VolumeIn(string(text), quantity.Litre)
	return err
}

// celsius is a flag such as 24 or 75F; a bare number is in °C.
type celsius struct {
	quantity.Celsius
	units
}

// UnmarshalText reads the flag.
func (c *celsius) UnmarshalText(text []byte) (err error) {
	c.read(text)
	c.Celsius, err = quantity.TemperatureIn(string(text), quantity.DegreeCelsius)
	return err
}

// metres is a flag such as 80 or "260 ft"; a bare number is in metres.
type metres struct {
	quantity.Metres
	units
}

// UnmarshalText reads the flag.
func (m *metres) UnmarshalText(text []byte) (err error) {
	m.read(text)
	m.Metres, err = quantity.LengthIn(string(text), quantity.Metre)
	return err
}

// writtenIn is in which units flags were written: US where one of them is, and not
// known where all are bare numbers.
func writtenIn(all []units) (u quantity.Units, known bool) {
	for _, one := range all {
		if one.known {
			u, known = max(u, one.of), true
		}
	}
	return u, known
}
