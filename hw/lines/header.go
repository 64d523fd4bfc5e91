package lines

import (
	"fmt"
	"slices"
	"strings"
)

// headerLines is how many lines of its chip a Raspberry Pi has on its header.
const headerLines = 28

// piChips are the labels of the chip behind the header of a Raspberry Pi: the
// first four boards and the Zeros, the fourth, and the fifth (the kernel's
// drivers pinctrl-bcm2835 and pinctrl-rp1, from memory). GPIOn is its line n.
var piChips = []string{"pinctrl-bcm2835", "pinctrl-bcm2711", "pinctrl-rp1"}

// PiChip reports whether a label is that of the chip behind the header of a
// Raspberry Pi.
func PiChip(label string) bool { return slices.Contains(piChips, label) }

// What a pin of the header is instead of a line.
const (
	ground = -1 - iota
	supply3V3
	supply5V
)

var power = map[int]string{ground: "ground", supply3V3: "the 3.3 V supply", supply5V: "the 5 V supply"}

// header is the 40-pin header of a Raspberry Pi by pin: the GPIO number there
// (Raspberry Pi documentation, "GPIO and the 40-pin header").
var header = [...]int{
	1: supply3V3, 2: supply5V,
	3: 2, 4: supply5V,
	5: 3, 6: ground,
	7: 4, 8: 14,
	9: ground, 10: 15,
	11: 17, 12: 18,
	13: 27, 14: ground,
	15: 22, 16: 23,
	17: supply3V3, 18: 24,
	19: 10, 20: ground,
	21: 9, 22: 25,
	23: 11, 24: 8,
	25: ground, 26: 7,
	27: 0, 28: 1,
	29: 5, 30: ground,
	31: 6, 32: 12,
	33: 13, 34: ground,
	35: 19, 36: 16,
	37: 26, 38: 20,
	39: ground, 40: 21,
}

// HeaderPin is the GPIO number at a pin of a Raspberry Pi's header. An error
// says what else is there.
func HeaderPin(pin int) (int, error) {
	if pin < 1 || pin >= len(header) {
		return 0, fmt.Errorf("the header of a Raspberry Pi has pins 1 to %d", len(header)-1)
	}
	if n := header[pin]; n >= 0 {
		return n, nil
	}
	return 0, fmt.Errorf("on a Raspberry Pi that pin is %s", power[header[pin]])
}

// PinOf is the pin of GPIO n, 0 to 27, on a Raspberry Pi's header.
func PinOf(n int) int { return slices.Index(header[1:], n) + 1 }

// PulledUp reports which way a Raspberry Pi pulls GPIO n, 0 to 27, at
// power-on: GPIO0 to 8 up and the others down (BCM2835 ARM Peripherals, table
// 6-31, from memory).
func PulledUp(n int) bool { return n <= 8 }

// SecondJob names what else GPIO n of a Raspberry Pi's header does; "" when
// nothing else.
func SecondJob(n int) string {
	switch {
	case n == 0 || n == 1:
		return "the EEPROM of add-on boards"
	case n == 2 || n == 3:
		return "the I2C bus"
	case n >= 7 && n <= 11:
		return "the SPI bus"
	case n == 14 || n == 15:
		return "the serial console"
	}
	return ""
}

// AtPin reports whether the name that a kernel gives a line says that it is
// this pin of the header, as PIN_11 or "pin 11" do.
func AtPin(name string, pin int) bool {
	upper := strings.ToUpper(name)
	for {
		_, after, ok := strings.Cut(upper, "PIN")
		if !ok {
			return false
		}
		digits := strings.TrimLeft(after, " _-")
		end := strings.IndexFunc(digits, func(r rune) bool { return r < '0' || r > '9' })
		if end < 0 {
			end = len(digits)
		}
		if digits[:end] == fmt.Sprint(pin) || digits[:end] == fmt.Sprintf("%02d", pin) {
			return true
		}
		upper = after
	}
}
