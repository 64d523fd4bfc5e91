package quantity

import "math"

// Rounded is a figure to a multiple of step.
func Rounded[T ~float64](x T, step float64) T { return T(math.Round(float64(x)/step) / (1 / step)) }

// Hundredth is a figure as it is shown where a hundredth is enough.
func Hundredth(x float64) float64 { return math.Round(x*100) / 100 }

// Thousandth is a figure as it is shown where more says nothing.
func Thousandth(x float64) float64 { return math.Round(x*1000) / 1000 }

// Finite is a figure for JSON, which knows no infinity.
func Finite(x float64) *float64 {
	if math.IsInf(x, 0) {
		return nil
	}
	x = Thousandth(x)
	return &x
}
