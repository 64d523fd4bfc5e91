package gpio

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// The call numbers of linux/gpio.h carry the size of their argument in bits 16
// to 29 (asm-generic/ioctl.h), so they check the layout on every architecture.
func TestStructsHaveTheSizeThatTheKernelExpects(t *testing.T) {
	size := func(call uintptr) uintptr { return call >> 16 & 0x3fff }
	assert.Equal(t, size(unix.GPIO_V2_GET_LINE_IOCTL), unsafe.Sizeof(unix.GPIOV2LineRequest{}))
	assert.Equal(t, size(unix.GPIO_V2_GET_LINEINFO_IOCTL), unsafe.Sizeof(unix.GPIOV2LineInfo{}))
	assert.Equal(t, size(unix.GPIO_V2_LINE_GET_VALUES_IOCTL), unsafe.Sizeof(unix.GPIOV2LineValues{}))
	assert.Equal(t, size(unix.GPIO_V2_LINE_SET_VALUES_IOCTL), unsafe.Sizeof(unix.GPIOV2LineValues{}))
}

func TestOutputRequestCarriesItsInitialLevel(t *testing.T) {
	for _, high := range []bool{false, true} {
		req := lineRequest(request{consumer: "benchtide pump", offsets: []uint32{22}, output: true, initial: high})
		assert.EqualValues(t, 1, req.Num_lines)
		assert.EqualValues(t, 22, req.Offsets[0])
		assert.EqualValues(t, flagOutput, req.Config.Flags)
		assert.EqualValues(t, 1, req.Config.Num_attrs)
		attr := req.Config.Attrs[0]
		assert.EqualValues(t, unix.GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES, attr.Attr.Id)
		assert.EqualValues(t, 1, attr.Mask)
		assert.Equal(t, high, attr.Attr.Flags == 1)
	}
}

func TestInputRequestGivesEachLineItsPull(t *testing.T) {
	req := lineRequest(request{
		offsets: []uint32{24, 25, 23, 4},
		pulls:   []Pull{PullUp, PullDown, PullUp, PullNone},
	})
	assert.EqualValues(t, 4, req.Num_lines)
	assert.Equal(t, []uint32{24, 25, 23, 4}, req.Offsets[:4])
	bias := map[uint64]uint64{}
	for _, a := range req.Config.Attrs[:req.Config.Num_attrs] {
		assert.EqualValues(t, unix.GPIO_V2_LINE_ATTR_ID_FLAGS, a.Attr.Id)
		bias[a.Mask] = a.Attr.Flags
	}
	assert.Equal(t, map[uint64]uint64{
		0b0101: flagInput | flagBiasPullUp,
		0b0010: flagInput | flagBiasPullDown,
		0b1000: flagInput | flagBiasDisabled,
	}, bias)
}

func TestConsumerIsCutToWhatTheKernelHolds(t *testing.T) {
	req := lineRequest(request{consumer: strings.Repeat("x", 40), offsets: []uint32{1}})
	assert.Equal(t, strings.Repeat("x", 31)+"\x00", string(req.Consumer[:]))
}

func TestMaskCoversAllLines(t *testing.T) {
	assert.Equal(t, uint64(1), mask(1))
	assert.Equal(t, ^uint64(0), mask(maxLines))
}

func TestKernelErrorsComeThroughWithTheirPlace(t *testing.T) {
	k := systemKernel()
	missing := filepath.Join(t.TempDir(), "gpiochip9")
	_, err := k.Request(request{chip: missing, offsets: []uint32{7}})
	require.ErrorIs(t, err, fs.ErrNotExist)
	assert.ErrorContains(t, err, "line 7 of "+missing)

	fd, err := k.Request(request{chip: os.DevNull, offsets: []uint32{7}})
	require.ErrorIs(t, err, syscall.ENOTTY)
	assert.Equal(t, unclaimed, fd)
	_, err = k.Info(lineID{os.DevNull, 7})
	require.ErrorIs(t, err, syscall.ENOTTY)

	null, err := os.Open(os.DevNull)
	require.NoError(t, err)
	defer null.Close()
	_, err = k.Get(int(null.Fd()), 1)
	require.ErrorIs(t, err, syscall.ENOTTY)
	require.ErrorIs(t, k.Set(int(null.Fd()), true), syscall.ENOTTY)
}

// A call leaves no chip open, whether it worked or not; the standard streams
// above all stay as they are.
func TestCallsLeaveNoDescriptorBehind(t *testing.T) {
	count := func() int {
		open, err := os.ReadDir("/proc/self/fd")
		require.NoError(t, err)
		return len(open)
	}
	before := count()
	for range 20 {
		_, _ = systemKernel().Request(request{chip: os.DevNull, offsets: []uint32{7}})
		_, _ = systemKernel().Info(lineID{os.DevNull, 7})
	}
	assert.Equal(t, before, count())
}
