package mutant

import (
	"os"
	"strconv"
)

// by is the share by which a figure is changed.
var by, _ = strconv.ParseFloat(os.Getenv("MUTANT_BY"), 64)

// Scaled is v, and v with that share more when n is on, or less when n is on below
// zero.
func Scaled[T number](n int, v T) T {
	switch on {
	case n:
		return T(float64(v) * (1 + by))
	case -n:
		return T(float64(v) * (1 - by))
	}
	return v
}
