package hw_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw"
)

func TestOutputErrorsAreFoundInJoinedErrors(t *testing.T) {
	busy := errors.New("busy")
	air := &hw.OutputError{Output: 2, Name: "air", Err: busy}
	pump := &hw.OutputError{Output: 0, Name: "flood_pump", Err: busy}
	gone := errors.New("the chip is gone")
	outputs, rest := hw.OutputErrors(errors.Join(air, errors.Join(gone, pump)))
	require.Len(t, outputs, 2)
	assert.Equal(t, 2, outputs[0].Output)
	assert.Equal(t, `drive output "flood_pump": busy`, outputs[1].Error())
	assert.ErrorIs(t, outputs[1], busy)
	assert.Equal(t, []error{gone}, rest)
	outputs, rest = hw.OutputErrors(nil)
	assert.Empty(t, outputs)
	assert.Empty(t, rest)
}
