package hydraulics

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestFallingFindsTheCrossing(t *testing.T) {
	assert.Zero(t, falling(3, func(float64) float64 { return -1 }), "below zero from the start")
	assert.Equal(t, 3.0, falling(3, func(float64) float64 { return 1 }), "above zero to the end")
	// A loss of head grows with the first power of the flow up to the second.
	rapid.Check(t, func(t *rapid.T) {
		root, high := rapid.Float64Range(1e-6, 1).Draw(t, "root"), rapid.Float64Range(1, 10).Draw(t, "high")
		power := rapid.Float64Range(1, 2).Draw(t, "power")
		rounds := 0
		got := falling(high, func(x float64) float64 {
			rounds++
			return math.Pow(root, power) - math.Pow(x, power)
		})
		assert.InDelta(t, root, got, 1e-13*high)
		assert.Less(t, rounds, 110)
	})
}
