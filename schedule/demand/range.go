package demand

import (
	"errors"
	"fmt"
)

// rangeError says which value cannot be.
type rangeError struct {
	what      string
	value     float64
	low, high float64
	unit      string
}

func (e *rangeError) Error() string {
	return fmt.Sprintf("%s %.4g %s cannot be right: it lies between %.4g and %.4g %s", e.what, e.value, e.unit, e.low, e.high, e.unit)
}

// between refuses what is outside [low, high], and NaN.
func between[Q ~float64](what string, value Q, low, high float64, unit string) error {
	if v := float64(value); !(v >= low && v <= high) {
		if unit == "°C" {
			return unlikely{what + " %s cannot be right: it lies between %s and %s", []Celsius{Celsius(v), Celsius(low), Celsius(high)}}
		}
		return &rangeError{what, v, low, high, unit}
	}
	return nil
}

// keep takes out a reading outside [low, high] and refuses it; a missing one is
// right.
func keep[Q ~float64](what string, o *Optional[Q], low, high float64, unit string) error {
	v, ok := o.Get()
	if !ok {
		return nil
	}
	err := between(what, v, low, high, unit)
	if err != nil {
		*o = Optional[Q]{}
	}
	return err
}

// unlikely is an error with temperatures, which people read in degrees of their own.
type unlikely struct {
	format string
	at     []Celsius
}

func (u unlikely) Error() string {
	return u.InDegrees(func(t float64) string { return fmt.Sprintf("%.5g °C", t) })
}

// InDegrees is the error with its temperatures as say says them.
func (u unlikely) InDegrees(say func(celsius float64) string) string {
	var all []any
	for _, t := range u.at {
		all = append(all, say(float64(t)))
	}
	return fmt.Sprintf(u.format, all...)
}

// scale is in which units a table has its temperatures and its wind, so that what is
// said of a line is said in those.
type scale struct{ fahrenheit, mph bool }

// scaleOf is that of a table with these names at the heads of its columns.
func scaleOf(heads ...string) (s scale) {
	for _, head := range heads {
		s.fahrenheit = s.fahrenheit || customary[head].name != "" && head != mphColumn
		s.mph = s.mph || head == mphColumn
	}
	return s
}

// degrees says a temperature.
func (s scale) degrees(celsius float64) string {
	if s.fahrenheit {
		return fmt.Sprintf("%.4g °F", celsius*1.8+32)
	}
	return fmt.Sprintf("%.4g °C", celsius)
}

// say says what is wrong.
func (s scale) say(err error) string {
	if e, ok := errors.AsType[unlikely](err); ok {
		return e.InDegrees(s.degrees)
	}
	if e, ok := errors.AsType[*rangeError](err); ok && s.mph && e.unit == windUnit {
		return (&rangeError{e.what, e.value / mph, e.low / mph, e.high / mph, "mph"}).Error()
	}
	return err.Error()
}
