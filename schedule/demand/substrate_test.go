package demand

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestATallerPotHoldsNoMoreThanALowOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pores := rapid.Float64Range(0.5, 0.98).Draw(t, "pores")
		air := rapid.Float64Range(0.01, (1-bound)*pores).Draw(t, "air")
		s := Substrate{Water: pores - air, Air: air, Column: Metres(rapid.Float64Range(0.02, 0.3).Draw(t, "column"))}
		low := Metres(rapid.Float64Range(0.005, 0.5).Draw(t, "low"))
		tall := low + Metres(rapid.Float64Range(0.001, 0.5).Draw(t, "more"))
		require.InDelta(t, s.Water, s.Capacity(s.Column), 1e-9, "as measured")
		require.LessOrEqual(t, s.Capacity(tall), s.Capacity(low)+1e-9)
		require.LessOrEqual(t, s.Capacity(low), pores)
		require.GreaterOrEqual(t, s.Capacity(tall), bound*pores-1e-9)
	})
}
