package config

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/quantity"
	"benchtide/schedule/demand"
)

var climateKeys = []string{"lows", "highs", "humidity", "light"}

// climate reads one line for the whole year, or one for each month that has
// its own. A month that is not named has the line of the one named last before
// it.
func (r *reader) climate(v value, s *Site) {
	f := v.fields()
	c := assumedClimate()
	c.Cover = cover(ranged(f, "cover", quantity.ParseFraction))
	if months, ok := f.get("months"); ok {
		for _, key := range climateKeys {
			if _, both := f.get(key); both {
				r.errorf(f.join(key), "it stands beside months: give every month its own, or the whole year one")
			}
		}
		r.months(months, &c)
	} else {
		line := f.climateLine()
		for i := range c.Lines {
			c.Lines[i] = line
		}
	}
	s.Climate = &c
}

func (r *reader) months(v value, c *Climate) {
	var given [12]bool
	for _, e := range v.entries() {
		m, ok := monthOf(e.key)
		if !ok {
			e.at.errorf("month %q: %s", e.key, suggest(e.key, monthNames, "write ", "or"))
			continue
		}
		c.Lines[m-1], given[m-1] = e.fields().climateLine(), true
	}
	if len(v.node.Content) == 0 && v.node.Kind == yaml.MappingNode {
		v.errorf("empty: %s", v.hint())
	}
	for i := range 24 { // twice round, as the first months may follow the last
		if before := (i + 11) % 12; !given[i%12] && given[before] {
			c.Lines[i%12], given[i%12] = c.Lines[before], true
		}
	}
}

func monthOf(name string) (time.Month, bool) {
	for m := time.January; m <= time.December; m++ {
		if strings.EqualFold(name, m.String()) {
			return m, true
		}
	}
	return 0, false
}

// climateLine reads the four figures of a climate, which are all needed.
func (f fields) climateLine() demand.Line {
	for _, key := range climateKeys {
		if !f.section.child(key).Needed { // else it is noted as it is read
			f.need(key)
		}
	}
	humidity := plain(f, "humidity", spanOf(quantity.ParseFraction))
	return demand.Line{
		Lows:     celsius(plain(f, "lows", spanOf(quantity.ParseTemperature))),
		Highs:    celsius(plain(f, "highs", spanOf(quantity.ParseTemperature))),
		Humidity: demand.Span[demand.Percent]{Least: demand.Percent(100 * humidity.Least), Most: demand.Percent(100 * humidity.Most)},
		Light:    plain(f, "light", spanOf(sunlight)),
	}
}

func celsius(s demand.Span[quantity.Celsius]) demand.Span[demand.Celsius] {
	return demand.Span[demand.Celsius]{Least: demand.Celsius(s.Least), Most: demand.Celsius(s.Most)}
}

// spanOf reads two values with one unit, as "10 to 18 C", or one value that is
// both ends.
func spanOf[Q ~float64](parse func(string) (Q, error)) func(string) (demand.Span[Q], error) {
	return func(text string) (s demand.Span[Q], err error) {
		low, high, two := strings.Cut(text, " to ")
		if !two {
			s.Least, err = parse(text)
			s.Most = s.Least
			return s, err
		}
		if unit := strings.TrimLeft(high, " +-.0123456789"); strings.TrimLeft(low, " +-.0123456789") == "" {
			low += " " + unit
		}
		if s.Least, err = parse(low); err != nil {
			return s, err
		}
		if s.Most, err = parse(high); err == nil && s.Least > s.Most {
			err = fmt.Errorf("%q: write the lower end first", text)
		}
		return s, err
	}
}

// measured reads a number with one of these units, each so many of the first.
func measured[Q ~float64](what, right string, units map[string]Q) func(string) (Q, error) {
	return func(text string) (Q, error) {
		number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
		n, err := strconv.ParseFloat(number, 64)
		size, known := units[strings.NewReplacer("²", "2", "µ", "u", " ", "").Replace(unit)]
		if err != nil || !known || strings.Trim(number, "+.0123456789") != "" || math.IsInf(n, 0) {
			return 0, fmt.Errorf("%q: write %s like %s", text, what, right)
		}
		return Q(n) * size, nil
	}
}

var (
	sunlight = measured("the light of a day", "20 MJ/m2 or 40 mol/m2", map[string]demand.Megajoules{
		"MJ/m2": 1, "kWh/m2": 3.6, "mol/m2": demand.Megajoules(1 / demand.MolesFromLight(1)),
	})
	flux = measured("a photon flux", "180 umol/m2s", map[string]float64{"umol/m2s": 1, "umol/m2/s": 1})
)

// cover is the share of the light that comes through; nothing is over the
// plants where all of it does.
func cover(through quantity.Fraction) demand.Cover {
	if through == 1 {
		return 0
	}
	return demand.Cover(through)
}

// checkClimate refuses days that cannot be.
func (r *reader) checkClimate(s *Site) {
	if s.Climate == nil || !r.sound("site") {
		return
	}
	c, p, _ := s.Weather()
	for m := time.January; m <= time.December; m++ {
		middle := time.Date(2001, m, 15, 0, 0, 0, 0, time.UTC)
		if _, err := c.Line(m).Climate(p, middle.YearDay()); err != nil {
			r.errorf("site.climate", "in %s: %s", m, r.units.Told(err))
			return
		}
	}
}
