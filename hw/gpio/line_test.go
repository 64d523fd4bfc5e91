package gpio

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
)

// To ask the hardware would turn the line into an input.
func TestOutputLineDescribesItselfWithoutAskingTheKernel(t *testing.T) {
	l := newOutputLine(host{}, "GPIO5", "pump", berth{lineID: lineID{"/dev/gpiochip0", 5}})
	assert.Equal(t, "GPIO5", l.Name())
	assert.Equal(t, "GPIO5", l.String())
	assert.Equal(t, 5, l.Number())
	assert.Equal(t, "OUT", l.Function())
	require.ErrorContains(t, l.PWM(gpio.DutyHalf, 0), "not supported")
	require.NoError(t, l.Halt(), "an unclaimed line has nothing to release")
}
