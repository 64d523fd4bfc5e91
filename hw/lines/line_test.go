package lines_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchtide/hw/lines"
)

func TestALineIsWrittenSoThatYAMLReadsItBack(t *testing.T) {
	for _, tt := range []struct {
		line       lines.Line
		says, file string
	}{
		{lines.Named("GPIO5"), "GPIO5", "GPIO5"},
		{lines.Named("P9_12 [x]"), "P9_12 [x]", `"P9_12 [x]"`},
		{lines.Line{Chip: "tray-a", Offset: 3}, "line 3 of tray-a", "{chip: tray-a, offset: 3}"},
		{lines.Line{Chip: "1-0020", Offset: 0}, "line 0 of 1-0020", `{chip: "1-0020", offset: 0}`},
		{lines.Line{Chip: "pcf8574", Address: "0x21", Offset: 7}, "line 7 of pcf8574 at 0x21", "{chip: pcf8574, address: 0x21, offset: 7}"},
		{lines.Line{Pin: 11}, "pin 11", "{pin: 11}"},
	} {
		assert.Equal(t, tt.says, tt.line.String())
		assert.Equal(t, tt.file, tt.line.Written())
		var read any
		require.NoError(t, yaml.Unmarshal([]byte(tt.line.Written()), &read))
		if m, ok := read.(map[string]any); ok && tt.line.Chip != "" {
			assert.Equal(t, tt.line.Chip, m["chip"])
		}
		assert.True(t, tt.line.Fitted())
	}
	assert.False(t, lines.Line{}.Fitted())
}

func TestTwoWaysOfWritingOneLineHaveOneKey(t *testing.T) {
	five := lines.Named("GPIO5").Key()
	for _, same := range []lines.Line{{Name: "gpio5"}, {Pin: 29}, {Chip: "pinctrl-bcm2711", Offset: 5}, {Chip: "pinctrl-rp1", Offset: 5}} {
		assert.Equal(t, five, same.Key(), same.String())
	}
	for _, other := range []lines.Line{{Name: "GPIO6"}, {Name: "GPIO05"}, {Pin: 5}, {Pin: 6}, {Chip: "tray", Offset: 5}, {Chip: "pinctrl-rp1", Offset: 28}} {
		assert.NotEqual(t, five, other.Key(), other.String())
	}
}

func TestPinsOfTheHeader(t *testing.T) {
	seen := map[int]int{}
	for pin := 1; pin <= 40; pin++ {
		if n, err := lines.HeaderPin(pin); err == nil {
			assert.Zero(t, seen[n], "GPIO%d is at two pins", n)
			seen[n] = pin
			assert.Equal(t, pin, lines.PinOf(n))
		}
	}
	assert.Len(t, seen, 28)
	for pin, says := range map[int]string{1: "3.3 V", 4: "5 V", 39: "ground", 0: "1 to 40", 41: "1 to 40"} {
		_, err := lines.HeaderPin(pin)
		assert.ErrorContains(t, err, says)
	}
}

func TestANameThatSaysItsPin(t *testing.T) {
	for _, name := range []string{"PIN_11", "pin11", "HDR_PIN-11", "Pin 11 (PWM)", "PIN_1 PIN_11"} {
		assert.True(t, lines.AtPin(name, 11), name)
	}
	for _, name := range []string{"PIN_111", "PIN_1", "GPIO11", "P1_11", "", "SPIN_X11"} {
		assert.False(t, lines.AtPin(name, 11), name)
	}
}

func TestAnExpanderIsKnownByItsLabelWhereItCanBe(t *testing.T) {
	for _, label := range []string{"1-0020", "pcf8574", "PCF8575", "mcp23017", "pca9555"} {
		assert.True(t, lines.Expander(label), label)
	}
	for _, label := range []string{"pinctrl-bcm2835", "tray-a", "gpio-brcmstb@107d508500", "1f000d0000.gpio"} {
		assert.False(t, lines.Expander(label), label)
	}
}

func TestAnAddressMeansADevice(t *testing.T) {
	for _, tt := range []struct {
		written, device string
		same            bool
	}{
		{"0x20", "1-0020", true}, {"32", "1-0020", true}, {"1-0020", "1-0020", true}, {"0x20", "0-0020", true},
		{"0x21", "1-0020", false}, {"0-0020", "1-0020", false}, {"0x20", "gpio-20", false}, {"gpio-sim.0", "gpio-sim.0", true},
	} {
		assert.Equal(t, tt.same, lines.SameAddress(tt.written, tt.device), tt)
	}
}

// What else the lines of the header do (Raspberry Pi documentation, "GPIO and the 40-pin
// header"), and which way they are pulled at power-on (BCM2835 ARM Peripherals, table
// 6-31), both from memory.
func TestWhatElseALineOfTheHeaderDoes(t *testing.T) {
	jobs := map[int]string{
		0: "the EEPROM of add-on boards", 1: "the EEPROM of add-on boards", 2: "the I2C bus", 3: "the I2C bus",
		7: "the SPI bus", 8: "the SPI bus", 9: "the SPI bus", 10: "the SPI bus", 11: "the SPI bus",
		14: "the serial console", 15: "the serial console",
	}
	for n := range 28 {
		assert.Equal(t, jobs[n], lines.SecondJob(n), "GPIO%d", n)
		assert.Equal(t, n < 9, lines.PulledUp(n), "GPIO%d", n)
	}
}
