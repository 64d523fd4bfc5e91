package demand

import "fmt"

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
