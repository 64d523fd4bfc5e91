package gpio

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
	"periph.io/x/host/v3/bcm283x"
	"periph.io/x/host/v3/rpi"

	"benchtide/hw/lines"
	"benchtide/safety"
)

// crowd is a machine with a Raspberry Pi's chip, two expanders with one label,
// one with its bus name for label, two chips that nothing tells apart, and one
// name on two chips and twice on one.
func crowd(t testing.TB) *rig {
	r := &rig{t: t, nextFD: 3, chips: map[string]chip{}, dead: map[string]bool{}, blank: map[*gpiotest.Pin]bool{}, pins: map[lineID]*gpiotest.Pin{},
		holders: map[lineID]lineInfo{}, claims: map[int]request{}}
	for _, c := range []struct {
		chip
		names []string
	}{
		{chip{device: "/dev/gpiochip0", label: "pcf8574", address: "1-0021"}, []string{"pump", "lamp", "", ""}},
		{chip{device: "/dev/gpiochip1", label: "pinctrl-bcm2711", address: "fe200000.gpio", own: true},
			[]string{"ID_SDA", "ID_SCL", "SDA1", "SCL1", "GPIO_GCLK", "GPIO5", "", "twice", "twice"}},
		{chip{device: "/dev/gpiochip2", label: "pcf8574", address: "1-0020"}, []string{"pump", "", "GPIO3", ""}},
		{chip{device: "/dev/gpiochip3", label: "1-0022", address: "1-0022"}, []string{"", "", "PIN_12"}},
		{chip{device: "/dev/gpiochip4", label: "same", own: true}, []string{"", "odd one"}},
		{chip{device: "/dev/gpiochip5", label: "same", own: true}, []string{"", "odd"}},
	} {
		r.addChip(c.chip)
		for n, name := range c.names {
			r.addPin(name, n)
		}
	}
	return r
}

func TestALineIsFoundHoweverItIsWritten(t *testing.T) {
	h := crowd(t).host()
	h.alias = func(name string) (int, bool) { return 6, name == "P1_31" }
	d := h.directory()
	require.NoError(t, d.silent)
	for _, tt := range []struct {
		line lines.Line
		want lineID
	}{
		{lines.Named("lamp"), lineID{"/dev/gpiochip0", 1}},
		{lines.Named("SDA1"), lineID{"/dev/gpiochip1", 2}},
		{lines.Named("GPIO2"), lineID{"/dev/gpiochip1", 2}}, // the kernel calls it SDA1
		{lines.Named("GPIO5"), lineID{"/dev/gpiochip1", 5}},
		{lines.Named("P1_31"), lineID{"/dev/gpiochip1", 6}}, // by periph's name
		{lines.Line{Pin: 29}, lineID{"/dev/gpiochip1", 5}},
		{lines.Line{Pin: 12}, lineID{"/dev/gpiochip3", 2}}, // the kernel's names come first
		{lines.Line{Chip: "pinctrl-bcm2711", Offset: 8}, lineID{"/dev/gpiochip1", 8}},
		{lines.Line{Chip: "pcf8574", Address: "0x20", Offset: 3}, lineID{"/dev/gpiochip2", 3}},
		{lines.Line{Chip: "pcf8574", Address: "1-0021", Offset: 0}, lineID{"/dev/gpiochip0", 0}},
		{lines.Line{Chip: "1-0022", Offset: 1}, lineID{"/dev/gpiochip3", 1}},
	} {
		found, refused := d.find(tt.line)
		if assert.Nil(t, refused, "%v", tt.line) {
			assert.Equal(t, tt.want, found.lineID(), "%v", tt.line)
		}
	}
}

func TestWhatIsFoundTwiceOrNotIsRefusedWithTheWayToSayWhich(t *testing.T) {
	h := crowd(t).host()
	d := h.directory()
	require.NoError(t, d.silent)
	for _, tt := range []struct {
		line lines.Line
		says []string
	}{
		{lines.Named("pump"), []string{"2 lines have that name",
			"line: {chip: pcf8574, address: 1-0020, offset: 0} or line: {chip: pcf8574, address: 1-0021, offset: 0}"}},
		{lines.Named("twice"), []string{"2 lines have that name", "{chip: pinctrl-bcm2711, offset: 7} or line: {chip: pinctrl-bcm2711, offset: 8}"}},
		{lines.Named("GPIO3"), []string{"2 lines have that name", "{chip: pcf8574, address: 1-0020, offset: 2} or line: {chip: pinctrl-bcm2711, offset: 3}"}},
		{lines.Line{Chip: "pcf8574", Offset: 2}, []string{"2 chips have that label", "{chip: pcf8574, address: 1-0020, offset: 2} or line:"}},
		{lines.Line{Chip: "same", Offset: 0}, []string{"2 chips have that label, on chips that nothing tells apart", "take a line of another chip"}},
		{lines.Line{Chip: "pcf8574", Address: "0x23", Offset: 2}, []string{"no chip with that label is at that address", "it is at 1-0020 and 1-0021"}},
		{lines.Line{Chip: "gpiochip1", Offset: 2}, []string{"no chip with that label", `it has "1-0022", "pcf8574", "pinctrl-bcm2711", "same"`}},
		{lines.Line{Chip: "1-0022", Offset: 3}, []string{"that chip has lines 0 to 2"}},
		{lines.Line{Pin: 6}, []string{"on a Raspberry Pi that pin is ground"}},
		{lines.Line{Pin: 41}, []string{"pins 1 to 40"}},
		{lines.Named("GPIO9"), []string{"no line of that name", "(it has GPIO3 to GPIO5)"}},
		{lines.Named("odd"), nil},
	} {
		_, refused := d.find(tt.line)
		if tt.says == nil {
			assert.Nil(t, refused)
			continue
		}
		require.NotNil(t, refused, "%v", tt.line)
		for _, s := range tt.says {
			assert.ErrorContains(t, refused, s, "%v", tt.line)
		}
	}
}

func TestABoardThatDoesNotSayItsHeaderIsAskedForNoPin(t *testing.T) {
	r := newRig(t)
	h := r.host()
	_, refused := h.directory().find(lines.Line{Pin: 29})
	require.NotNil(t, refused)
	assert.ErrorContains(t, refused, "does not say which lines are at the pins")
}

// What stands in place of a doubled line is itself found, and is that line.
func TestTheWayToSayWhichMeansThatOne(t *testing.T) {
	h := crowd(t).host()
	d := h.directory()
	for _, c := range d.chips {
		for n := range c.lines {
			if way, ok := d.only(spot{c, n}); ok {
				found, refused := d.find(way)
				require.Nil(t, refused)
				assert.Equal(t, lineID{c.device, n}, found.lineID())
			} else {
				assert.Equal(t, "same", c.label)
			}
		}
	}
}

func TestEnableBehindABusIsRefusedButPutOff(t *testing.T) {
	r := crowd(t)
	c := Config{Outputs: []Output{
		{Name: "pump", Line: lines.Named("GPIO5"), Kind: safety.FloodPump},
		{Name: "enable", Line: lines.Named("lamp"), EnergiseHigh: true, Kind: safety.Enable},
	}}
	_, err := openOn(r.host(), c)
	require.ErrorContains(t, err, `claim line "lamp" for output "enable": chip "pcf8574" is behind a bus: an enable relay must not be on an expander`)
	require.ErrorContains(t, err, "wire it to a line of the processor itself")
	assert.Empty(t, r.took())
	require.NoError(t, offOn(r.host(), c))
	assert.Contains(t, r.took(), "claim lamp low")
}

// Where a chip sits is read from sysfs; of what is on no tree nothing is known.
func TestAChipBehindABusIsKnownByItsDevice(t *testing.T) {
	sys := t.TempDir()
	device := func(number, path string, kinds map[string]string) {
		at := filepath.Join(sys, "devices", path, number)
		require.NoError(t, os.MkdirAll(at, 0o755))
		require.NoError(t, os.MkdirAll(filepath.Join(sys, "bus/gpio/devices"), 0o755))
		require.NoError(t, os.Symlink(at, filepath.Join(sys, "bus/gpio/devices", number)))
		require.NoError(t, os.Symlink(filepath.Join(sys, "bus/gpio"), filepath.Join(at, "subsystem")))
		for dir, kind := range kinds {
			if err := os.Symlink(filepath.Join(sys, "bus", kind), filepath.Join(sys, "devices", dir, "subsystem")); err != nil {
				require.ErrorIs(t, err, os.ErrExist)
			}
		}
	}
	device("gpiochip0", "platform/soc/3f200000.gpio", map[string]string{"platform/soc": "platform", "platform/soc/3f200000.gpio": "platform"})
	device("gpiochip1", "platform/soc/3f804000.i2c/i2c-1/1-0020", map[string]string{"platform/soc/3f804000.i2c/i2c-1": "i2c", "platform/soc/3f804000.i2c/i2c-1/1-0020": "i2c"})
	device("gpiochip2", "pci0000/1f00/1f000d0000.gpio", map[string]string{"pci0000/1f00": "pci", "pci0000/1f00/1f000d0000.gpio": "platform"})
	device("gpiochip3", "pci0000/1e00/usb1/1-1/1-1.0", map[string]string{"pci0000/1e00": "pci", "pci0000/1e00/usb1": "usb"})
	device("gpiochip4", "platform/spi9/spi9.0/mcp23s08", map[string]string{"platform/spi9/spi9.0": "spi"})
	for number, want := range map[string]struct {
		address string
		own     bool
	}{
		"/dev/gpiochip0": {"3f200000.gpio", true},
		"/dev/gpiochip1": {"1-0020", false},
		"/dev/gpiochip2": {"1f000d0000.gpio", true},
		"/dev/gpiochip3": {"1-1.0", false},
		"/dev/gpiochip4": {"mcp23s08", false},
		"/dev/gpiochip9": {"", false},
	} {
		address, own := busUnder(sys, number)
		assert.Equal(t, want.address, address, number)
		assert.Equal(t, want.own, own, number)
	}
}

func TestTheHeaderIsPeriphsToo(t *testing.T) {
	for pin, p := range map[int]gpio.PinIO{3: rpi.P1_3, 8: rpi.P1_8, 11: rpi.P1_11, 12: rpi.P1_12, 13: rpi.P1_13, 16: rpi.P1_16, 19: rpi.P1_19,
		21: rpi.P1_21, 22: rpi.P1_22, 23: rpi.P1_23, 24: rpi.P1_24, 26: rpi.P1_26, 29: rpi.P1_29, 31: rpi.P1_31, 32: rpi.P1_32, 33: rpi.P1_33,
		35: rpi.P1_35, 36: rpi.P1_36, 37: rpi.P1_37, 38: rpi.P1_38, 40: rpi.P1_40} {
		want, ok := piNumber(p)
		require.True(t, ok)
		got, err := lines.HeaderPin(pin)
		require.NoError(t, err)
		assert.Equal(t, want, got, "pin %d", pin)
	}
	_, ok := piNumber(nil)
	assert.False(t, ok)
	five, ok := piNumber(bcm283x.GPIO5)
	assert.True(t, ok)
	assert.Equal(t, 5, five)
}
