package hw

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"golang.org/x/sys/unix"
)

// The states and flags are those of adjtimex(2), linux/timex.h.
func TestKernelIsSynchronisedOnlyWithoutErrors(t *testing.T) {
	assert.True(t, synchronised(unix.TIME_OK, 0))
	assert.True(t, synchronised(unix.TIME_OK, unix.STA_PLL|unix.STA_NANO))
	assert.False(t, synchronised(unix.TIME_ERROR, unix.STA_UNSYNC))
	assert.False(t, synchronised(unix.TIME_OK, unix.STA_PLL|unix.STA_UNSYNC))
	assert.False(t, synchronised(unix.TIME_ERROR, unix.STA_PLL))
	assert.False(t, synchronised(unix.TIME_OK, unix.STA_CLOCKERR))
}
