// Package lines says how a GPIO line is written, and what is known of lines
// without asking the machine: the header of a Raspberry Pi, and which chips by
// their label sit behind a bus.
//
// A line is written by the name that the kernel gives it, by the label of its
// chip and its offset there, or by its pin of the board's header. Chips are
// never written by number: the kernel hands numbers out in the order in which
// chips turn up, which another boot changes.
package lines

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Line is one line as it is written. Exactly one of Name, Chip and Pin is set;
// the zero Line is none.
type Line struct {
	Name string // as the kernel has it, such as GPIO5

	Chip    string // the label of a chip
	Address string // tells chips with one label apart: 0x20, or with the bus 1-0020; may be empty
	Offset  uint32 // of the line on that chip

	Pin int // of the board's header, from 1
}

// Named is the line that the kernel calls so.
func Named(name string) Line { return Line{Name: name} }

// Fitted reports whether a line is written at all.
func (l Line) Fitted() bool { return l != Line{} }

// String is the line in words, for people.
func (l Line) String() string {
	switch {
	case l.Chip != "" && l.Address != "":
		return fmt.Sprintf("line %d of %s at %s", l.Offset, l.Chip, l.Address)
	case l.Chip != "":
		return fmt.Sprintf("line %d of %s", l.Offset, l.Chip)
	case l.Pin != 0:
		return fmt.Sprintf("pin %d", l.Pin)
	}
	return l.Name
}

// Written is the line as the file has it after "line:".
func (l Line) Written() string {
	switch {
	case l.Chip != "" && l.Address != "":
		return fmt.Sprintf("{chip: %s, address: %s, offset: %d}", scalar(l.Chip), l.Address, l.Offset)
	case l.Chip != "":
		return fmt.Sprintf("{chip: %s, offset: %d}", scalar(l.Chip), l.Offset)
	case l.Pin != 0:
		return fmt.Sprintf("{pin: %d}", l.Pin)
	}
	return scalar(l.Name)
}

// plain is a text that YAML takes for a word without quotes.
var plain = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.@/+-]*$`)

// taken are words without quotes that YAML, or an editor's older one, takes for
// something else than a text.
var taken = regexp.MustCompile(`(?i)^(?:null|true|false|yes|no|on|off|y|n)$`)

func scalar(text string) string {
	if plain.MatchString(text) && !taken.MatchString(text) {
		return text
	}
	return strconv.Quote(text)
}

// chipDevice is the device file of a chip, whose number is no label.
var chipDevice = regexp.MustCompile(`^(/dev/)?(gpiochip)?[0-9]+$`)

// numbered is a name that says nothing but a number.
var numbered = regexp.MustCompile(`^[0-9.]*$`)

// IsName reports whether a file can mean a line by this name of the kernel's.
func IsName(name string) bool {
	return printable(name) && !strings.Contains(name, " ") && !numbered.MatchString(name)
}

// IsLabel reports whether a file can mean a chip by this label.
func IsLabel(label string) bool {
	return label != "" && printable(label) && label == strings.TrimSpace(label) && !IsDevice(label)
}

func printable(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) })
}

// IsDevice reports whether what is to be a label is the number of a chip, which
// another boot may give to another one.
func IsDevice(text string) bool { return chipDevice.MatchString(text) }

// Key is the same for two ways of writing one line, as far as that is known
// without the machine: on a Raspberry Pi pin 29 is GPIO5, and so is line 5 of
// its chip. Letter case does not matter.
func (l Line) Key() string {
	if n, ok := l.GPIO(); ok {
		return fmt.Sprintf("GPIO%d", n)
	}
	return strings.ToUpper(l.String())
}

// GPIO is the number of the line on the header of a Raspberry Pi, 0 to 27;
// false when it is none of them.
func (l Line) GPIO() (int, bool) {
	switch {
	case l.Pin != 0:
		n, err := HeaderPin(l.Pin)
		return n, err == nil
	case l.Chip != "":
		return int(l.Offset), PiChip(l.Chip) && l.Offset < headerLines
	}
	digits, ok := strings.CutPrefix(strings.ToUpper(l.Name), "GPIO")
	n, err := strconv.Atoi(digits)
	return n, ok && err == nil && digits == strconv.Itoa(n) && n >= 0 && n < headerLines
}

// busName is how the kernel names a device on an I2C bus: the bus and the
// address, as in 1-0020. Several expanders have it for their label.
var busName = regexp.MustCompile(`^[0-9]+-[0-9a-f]{4}$`)

// families are chips behind a bus, by how their labels begin (from memory of
// the kernel's drivers).
var families = []string{"pcf857", "pca95", "pca61", "pcal", "tca64", "tca95", "max73", "mcp23", "mcp2221", "ft232", "cp210", "dln2", "adp5", "74x164"}

// Expander reports whether a label is by its form that of a chip behind a bus.
// That it is not so says nothing: the machine has to be asked.
func Expander(label string) bool {
	if busName.MatchString(label) {
		return true
	}
	for _, f := range families {
		if strings.HasPrefix(strings.ToLower(label), f) {
			return true
		}
	}
	return false
}

// SameAddress reports whether the address in the file means the device that
// the kernel calls so: by its whole name, or by the address alone, whichever
// bus it is on.
func SameAddress(written, device string) bool {
	if written == device {
		return true
	}
	_, at, ok := strings.Cut(device, "-")
	if !ok || !busName.MatchString(device) {
		return false
	}
	want, err := strconv.ParseUint(written, 0, 16)
	have, bad := strconv.ParseUint(at, 16, 16)
	return err == nil && bad == nil && want == have
}

// NoEnable is why an enable relay may not hang on a chip behind a bus.
const NoEnable = "an enable relay must not be on an expander, where a command seems to succeed although the chip is gone or without power, and the relay stays as it was"
