package boardtest

// lineCount is how many GPIO lines the BCM2837 has.
const lineCount = 54

// gpioBase is the bus address of the GPIO block as the processor sees it.
const gpioBase = 0x3f200000

// Register offsets in the GPIO block (BCM2835 ARM Peripherals, Broadcom,
// February 2012, section 6.1).
const (
	regFunction  = 0x00 // GPFSEL0…5: ten lines each, three bits a line
	regSet       = 0x1c // GPSET0, 1
	regClear     = 0x28 // GPCLR0, 1
	regLevel     = 0x34 // GPLEV0, 1
	regPull      = 0x94 // GPPUD: the pull to apply next
	regPullClock = 0x98 // GPPUDCLK0, 1: which lines take it
)

// The functions of a line that matter here.
const (
	functionInput  = 0
	functionOutput = 1
)

// Pull is the resistor of a line.
type Pull uint8

// The pulls, numbered as the register GPPUD has them.
const (
	Floating Pull = iota
	PulledDown
	PulledUp
)

// powerOnPull is the resistor of a line at power-on (BCM2835 ARM Peripherals,
// section 6.2, column "Pull" of the table of alternative functions).
func powerOnPull(line int) Pull {
	switch {
	case line <= 8, line >= 34 && line <= 36, line >= 46:
		return PulledUp
	case line == 28, line == 29, line == 44, line == 45:
		return Floating
	default:
		return PulledDown
	}
}

// Pins is a model of the GPIO block: what is on each line with nothing but its
// resistor outside.
type Pins struct {
	function [lineCount]uint8
	output   [lineCount]bool
	pull     [lineCount]Pull
	nextPull Pull
}

// NewPins returns the block as it is at power-on: every line an input.
func NewPins() *Pins {
	p := &Pins{}
	for i := range p.pull {
		p.pull[i] = powerOnPull(i)
	}
	return p
}

// Write does what a register write does.
func (p *Pins) Write(offset uint32, value uint32) {
	switch {
	case offset < regSet:
		p.setFunctions(int(offset-regFunction)/4, value)
	case offset == regPull:
		p.nextPull = Pull(value & 3)
	default:
		p.writeMask(offset, value)
	}
}

func (p *Pins) setFunctions(register int, value uint32) {
	for i := range 10 {
		if line := register*10 + i; line < lineCount {
			p.function[line] = uint8(value >> (3 * i) & 7)
		}
	}
}

// writeMask handles the registers with one bit a line, in pairs of two words.
func (p *Pins) writeMask(offset, value uint32) {
	pair, first := offset, 0
	if offset == regSet+4 || offset == regClear+4 || offset == regPullClock+4 {
		pair, first = offset-4, 32
	}
	for i := first; i < min(first+32, lineCount); i++ {
		if value>>(i-first)&1 == 0 {
			continue
		}
		switch pair {
		case regSet:
			p.output[i] = true
		case regClear:
			p.output[i] = false
		case regPullClock:
			p.pull[i] = p.nextPull
		}
	}
}

// Driven reports whether the line is an output.
func (p *Pins) Driven(line int) bool { return p.function[line] == functionOutput }

// High reports the level that the line puts on a relay: its output, else its
// pull. A floating line counts as high when highIfFloating says so, so that
// the caller can take the worse of the two.
func (p *Pins) High(line int, highIfFloating bool) bool {
	switch {
	case p.Driven(line):
		return p.output[line]
	case p.pull[line] == Floating:
		return highIfFloating
	default:
		return p.pull[line] == PulledUp
	}
}
