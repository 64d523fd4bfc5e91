package config_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/hw/lines"
)

// wired is the example with another line for its air pump.
func wired(line string) (*config.Site, config.Problems) {
	return rewired("GPIO13", line)
}

func rewired(from, to string) (*config.Site, config.Problems) {
	return config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), "line: "+from, "line: "+to, 1)))
}

func TestALineIsWrittenByNameByChipOrByPin(t *testing.T) {
	for text, want := range map[string]lines.Line{
		"GPIO13":                        {Name: "GPIO13"},
		"PA7":                           {Name: "PA7"},
		"{chip: tray-a, offset: 3}":     {Chip: "tray-a", Offset: 3},
		`{chip: "1-0020", offset: 0}`:   {Chip: "1-0020"},
		"{offset: 7, chip: 1f000d0000}": {Chip: "1f000d0000", Offset: 7},
		"{chip: pcf8574, address: 0x21, offset: 5}": {Chip: "pcf8574", Address: "0x21", Offset: 5},
		"{pin: 33}": {Pin: 33},
		"pin 33":    {Pin: 33},
		"Pin 33":    {Pin: 33},
		"PIN_33":    {Name: "PIN_33"}, // the kernel's own name on some boards
	} {
		site, problems := wired(text)
		require.Empty(t, problems.Errors(), text)
		for _, o := range site.Outputs {
			if o.Name == "air" {
				assert.Equal(t, want, o.Line, text)
			}
		}
	}
}

func TestALineThatIsNoneIsRefusedAtItsPlace(t *testing.T) {
	for text, says := range map[string]string{
		"{chip: tray-a}":                      "missing: the number of the line on that chip",
		"{offset: 3}":                         "missing: the label of the chip",
		"{chip: gpiochip2, offset: 3}":        "chips are given by their label, since another boot may number them otherwise",
		"{chip: /dev/gpiochip2, offset: 3}":   "chips are given by their label",
		"{chip: 2, offset: 3}":                "chips are given by their label",
		"{chip: tray-a, offset: -1}":          `"-1": write the number of the line on its chip`,
		"{chip: tray-a, offset: 3.5}":         "counted from 0",
		"{chip: tray-a, line: 3}":             `unknown key "line"`,
		"{pin: 0}":                            "the number of a pin of the header",
		"{pin: GPIO5}":                        "the number of a pin of the header",
		"{pin: 33, offset: 3}":                "by its pin or by its chip and offset, not by both",
		"13":                                  "did you mean GPIO13?",
		`"P9_12 [ehrpwm]"`:                    "one whose name has a space in it is written {chip: LABEL, offset: N}",
		"[GPIO13]":                            "{chip: LABEL, offset: 5}",
		"{pin: 29}":                           `"pin 29": outputs.flood_pump is wired to that line already, as "GPIO5", which on a Raspberry Pi is the same`,
		"{chip: pinctrl-bcm2835, offset: 24}": "as", // the other one is told at its own place
	} {
		_, problems := wired(text)
		if assert.NotEmpty(t, problems.Errors(), text) {
			assert.ErrorContains(t, problems.Err(), says, text)
		}
	}
}

func TestEnableOnAnExpanderIsRefusedAndAPumpIsWarnedOf(t *testing.T) {
	_, problems := rewired("GPIO22", "{chip: pcf8574, offset: 1}")
	require.ErrorContains(t, problems.Err(), `"line 1 of pcf8574": an enable relay must not be on an expander`)
	require.ErrorContains(t, problems.Err(), "wire it to a line of the processor itself")
	_, problems = rewired("GPIO5", `{chip: "1-0020", offset: 1}`)
	require.Empty(t, problems.Errors())
	assert.Contains(t, problems.Warnings().Error(), "every turn the program reads it back")
}

func TestWhatIsKnownOfAPinIsSaidHoweverItIsWritten(t *testing.T) {
	for text, says := range map[string]string{
		"pin 8":                               "serves the serial console too",
		"{chip: pinctrl-bcm2711, offset: 10}": "serves the SPI bus too",
		"{pin: 31}":                           "which energises this relay before the program runs",
		"{pin: 39}":                           "on a Raspberry Pi that pin is ground",
	} {
		_, problems := config.Parse("bench.yaml", []byte(strings.Replace(strings.Replace(string(config.Example), "line: GPIO6,", "line: GPIO12,", 1), "line: GPIO13", "line: "+text, 1)))
		assert.Contains(t, problems.Warnings().Error(), says, text)
	}
}

// What was proven, and what is latched, goes by the line and not by how it is
// written.
func TestOneLineIsOneToTheGuardHoweverItIsWritten(t *testing.T) {
	named, problems := config.Parse("bench.yaml", config.Example)
	require.Empty(t, problems.Errors())
	pinned, problems := rewired("GPIO5", "pin 29")
	require.Empty(t, problems.Errors())
	assert.Equal(t, named.Limits().Outputs, pinned.Limits().Outputs)
	assert.Equal(t, named.Fingerprint(), pinned.Fingerprint())
}

// Whatever the kernel calls chips and lines, what is shown of a line is read back as
// that line. The rest is not shown.
func TestALineAsItIsShownIsReadAsThatLine(t *testing.T) {
	odd := []string{"tray-a", "my tray", "Schale-\u00e4", "\u80b2\u82d7\u67b6", "on", "NO", "null", "true", "a\"b", `a\\b`, "#1", "tab\there", "0x20", "1e3", "12", "12.5", "",
		"-", "~", "*a", "&a", "a: b", "[x]", "{y}", "gpiochip0", "/dev/gpiochip1", "PIN_11", "pin11", "'", "%", "@", "`", "?", "line\nbreak", "bad\xff", " edge ", "!!int", "=", "2026-03-02", "9:30"}
	shown := 0
	try := func(l lines.Line) {
		site, problems := rewired("GPIO13", l.Written())
		require.Empty(t, problems.Errors(), l.Written())
		for _, o := range site.Outputs {
			if o.Name == "air" {
				assert.Equal(t, l, o.Line, l.Written())
				shown++
			}
		}
	}
	for _, text := range odd {
		if lines.IsName(text) {
			try(lines.Named(text))
		}
		if lines.IsLabel(text) {
			try(lines.Line{Chip: text, Offset: 3})
			try(lines.Line{Chip: text, Address: "gpio-sim.7", Offset: 3})
		}
	}
	assert.Greater(t, shown, 60)
	for _, none := range []string{"", "12", "tab\there", "two words", "bad\xff", "line\nbreak"} {
		assert.False(t, lines.IsName(none), none)
	}
	for _, none := range []string{"", "12", "gpiochip0", "bad\xff", " edge "} {
		assert.False(t, lines.IsLabel(none), none)
	}
}
