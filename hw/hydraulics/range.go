package hydraulics

import "fmt"

// rangeError says which quantity a formula was not made for.
type rangeError struct {
	what    string
	value   float64
	unit    string
	allowed string
}

func (e *rangeError) Error() string {
	unit := e.unit
	if unit != "" {
		unit = " " + unit
	}
	return fmt.Sprintf("%s %.4g%s is outside the formula's range: %s", e.what, e.value, unit, e.allowed)
}

// positive refuses zero, negative numbers and NaN.
func positive(what string, value float64, unit string) error {
	if value > 0 && value < 1e300 {
		return nil
	}
	return &rangeError{what, value, unit, "it must be above 0"}
}

// between refuses what is outside [low, high], and NaN.
func between(what string, value, low, high float64, unit string) error {
	if value >= low && value <= high {
		return nil
	}
	return &rangeError{what, value, unit, fmt.Sprintf("%g to %g", low, high)}
}
