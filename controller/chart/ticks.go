package chart

import (
	"fmt"
	"math"
)

// marks is how many ticks an axis that finds them itself should have.
const marks = 5

// Round are round numbers from low to high, some five of them, each labelled.
func Round(low, high float64) (ticks []Tick) {
	if !(high > low) {
		return []Tick{{low, label(low, 1)}}
	}
	step := stepOf((high - low) / marks)
	for n := math.Ceil(low/step - 1e-9); n*step <= high+1e-9*step; n++ {
		ticks = append(ticks, Tick{n * step, label(n*step, step)})
	}
	return ticks
}

// stepOf is the least of 1, 2 and 5 times a power of ten that is not below rough.
func stepOf(rough float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(rough)))
	for _, n := range [...]float64{1, 2, 5} {
		if n*power >= rough*(1-1e-9) {
			return n * power
		}
	}
	return 10 * power
}

// label is a number with the places that its step needs.
func label(v, step float64) string {
	decimals := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	if v == 0 {
		v = 0 // no negative zero
	}
	return fmt.Sprintf("%.*f", decimals, v)
}

// Whole are the whole numbers from 0 to high, at most a dozen of them.
func Whole(high float64) (ticks []Tick) {
	step := max(1, int(math.Ceil(stepOf(high/12))))
	for n := 0; float64(n) <= high; n += step {
		ticks = append(ticks, Tick{float64(n), fmt.Sprint(n)})
	}
	return ticks
}

// Every are ticks for n columns or days with the given labels, at most a dozen of
// them labelled; at maps a number to its place on the axis.
func Every(n int, at func(int) float64, label func(int) string) (ticks []Tick) {
	every := max(1, (n+11)/12)
	for i := 0; i < n; i += every {
		ticks = append(ticks, Tick{at(i), label(i)})
	}
	return ticks
}
