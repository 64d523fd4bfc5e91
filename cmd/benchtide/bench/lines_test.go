package bench

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/gpio"
	"benchtide/hw/lines"
)

var someLines = gpio.Listing{
	Chips: []gpio.ChipLines{
		{Device: "/dev/gpiochip0", Label: "pinctrl-bcm2711", Address: "fe200000.gpio", Own: true, Lines: []gpio.LineInfo{
			{Offset: 2, Name: "SDA1", Write: lines.Named("SDA1"), Used: true, Header: 2},
			{Offset: 5, Name: "GPIO5", Write: lines.Named("GPIO5"), Used: true, Holder: "benchtide pump", Header: 5, Ours: []string{`output "pump"`}},
			{Offset: 40, Header: -1, Write: lines.Line{Chip: "pinctrl-bcm2711", Offset: 40}},
		}},
		{Device: "/dev/gpiochip3", Label: "pcf8574", Address: "1-0020", Lines: []gpio.LineInfo{
			{Offset: 1, Name: "lamp", Header: -1, Write: lines.Line{Chip: "pcf8574", Address: "1-0020", Offset: 1}},
		}},
	},
	Missing: []error{errors.New(`claim line "GPIO99" for switch north.full: this machine has no line of that name`)},
}

func TestLinesAreShownAsTheFileHasThem(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, printLines(&out, someLines))
	var got []string
	for line := range strings.Lines(out.String()) {
		got = append(got, strings.Join(strings.Fields(line), " "))
	}
	assert.Equal(t, []string{
		`chip "pinctrl-bcm2711" at fe200000.gpio, for now /dev/gpiochip0: the processor's own`,
		"offset name in the file held by power-on pull also serves on it",
		"2 SDA1 SDA1 the kernel up the I2C bus -",
		`5 GPIO5 GPIO5 benchtide pump up - output "pump"`,
		"40 - {chip: pinctrl-bcm2711, offset: 40} - - - -",
		"",
		`chip "pcf8574" at 1-0020, for now /dev/gpiochip3: an expander: its outputs are read back, and it takes no enable relay`,
		"offset name in the file held by power-on pull also serves on it",
		"1 lamp {chip: pcf8574, address: 1-0020, offset: 1} - - - -",
		"",
		`claim line "GPIO99" for switch north.full: this machine has no line of that name`,
	}, got)
}

func TestLinesForProgramsAreOneObject(t *testing.T) {
	text, err := json.Marshal(linesJSON(someLines))
	require.NoError(t, err)
	assert.Contains(t, string(text), `{"offset":5,"name":"GPIO5","write":"GPIO5","held":true,"holder":"benchtide pump","pull":"up","serves":"","pin":29,"ours":["output \"pump\""]}`)
	empty, err := json.Marshal(linesJSON(gpio.Listing{}))
	require.NoError(t, err)
	assert.JSONEq(t, `{"chips":[],"missing":[],"unasked":""}`, string(empty))
}

func TestLinesThatCouldNotBeAskedAreSaid(t *testing.T) {
	unasked := gpio.Listing{Unasked: errors.New("not every line could be asked: no permission; add the user to group gpio")}
	var out bytes.Buffer
	require.NoError(t, printLines(&out, unasked))
	assert.Contains(t, out.String(), "group gpio")
	assert.Contains(t, linesJSON(unasked).Unasked, "group gpio")
}
