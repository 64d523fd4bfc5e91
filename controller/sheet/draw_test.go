package sheet_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/sheet"
)

func TestDrawIsTheFillOfTheSheetOverItsTime(t *testing.T) {
	b := greenhouse()
	d, err := b.Draw(nil)
	require.NoError(t, err)
	s, err := sheet.New(b)
	require.NoError(t, err)
	assert.InDelta(t, float64(s.ToFull), float64(d.ToFull), 1e-9)
	assert.Zero(t, d.Holds)
	assert.Zero(t, d.Curve[0])
	assert.InDelta(t, 1, d.Curve[len(d.Curve)-1], 1e-9)
	for i := 1; i < len(d.Curve)-1; i++ {
		straight := float64(i) / float64(len(d.Curve)-1)
		assert.GreaterOrEqual(t, d.Curve[i], straight-1e-9, "the pump slows down as the water rises")
		assert.InDelta(t, straight, d.Curve[i], 0.05, "nearly as time goes")
	}
}

// A fill is known within what the file cannot tell of table, floats and pots: FULL at
// 26 mm give or take 3.2 mm, the middle the likeliest, is 5.0 % of standard deviation
// alone, and a table of 0.92 to 1.02 of its area by even chances 2.9 %.
func TestHowWellAFillIsKnown(t *testing.T) {
	b := greenhouse()
	d, err := b.Draw(nil)
	require.NoError(t, err)
	assert.Greater(t, float64(d.Give/d.ToFull), 2*0.050)
	assert.Less(t, float64(d.Give/d.ToFull), 2*0.11)
	b.Full = 0.052
	deeper, err := b.Draw(nil)
	require.NoError(t, err)
	assert.Less(t, float64(deeper.Give/deeper.ToFull), 0.8*float64(d.Give/d.ToFull), "the float counts for half as much")
}
