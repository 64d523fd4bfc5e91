package mutant

// Scaled is v, and v with 3 % more when n is on, or 3 % less when n is on below
// zero.
func Scaled[T number](n int, v T) T {
	switch on {
	case n:
		return T(float64(v) * 1.03)
	case -n:
		return T(float64(v) * 0.97)
	}
	return v
}
