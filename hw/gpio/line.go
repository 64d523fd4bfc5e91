package gpio

import (
	"errors"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"
)

// unclaimed is the file descriptor of a line that is not requested. Zero will
// not do: it is a valid descriptor when standard input is closed.
const unclaimed = -1

// outputLine is one output line of the kernel as a periph pin. Its first Out,
// and the first one after a failure, requests the line with the level wanted
// as its initial value, so that no other level is ever driven.
type outputLine struct {
	kernel kernel
	name   string
	use    string
	at     place
	fd     int
}

var _ gpio.PinOut = (*outputLine)(nil)

func newOutputLine(k kernel, name, use string, at place) *outputLine {
	return &outputLine{kernel: k, name: name, use: use, at: at, fd: unclaimed}
}

// Out drives the line. After an error the line is released, and its level is
// whatever its chip and its pull make of that.
func (l *outputLine) Out(level gpio.Level) error {
	if l.fd == unclaimed {
		return l.claim(level)
	}
	if err := l.kernel.Set(l.fd, bool(level)); err != nil {
		return errors.Join(err, l.Halt())
	}
	return nil
}

func (l *outputLine) claim(level gpio.Level) error {
	fd, err := l.kernel.Request(request{
		chip:     l.at.chip,
		consumer: "benchtide " + l.use,
		offsets:  []uint32{l.at.offset},
		output:   true,
		initial:  bool(level),
	})
	if err != nil {
		return err
	}
	l.fd = fd
	return nil
}

// Halt releases the line.
func (l *outputLine) Halt() error {
	if l.fd == unclaimed {
		return nil
	}
	fd := l.fd
	l.fd = unclaimed
	return l.kernel.Close(fd)
}

// PWM is refused: a relay does not want it.
func (l *outputLine) PWM(gpio.Duty, physic.Frequency) error {
	return errors.New("drive line " + l.name + " by PWM: not supported")
}

func (l *outputLine) String() string { return l.name }

// Name returns the line's name.
func (l *outputLine) Name() string { return l.name }

// Number returns the line's number on its chip.
func (l *outputLine) Number() int { return int(l.at.offset) }

// Function returns "OUT". It does not ask the hardware: an output is never
// read back.
func (l *outputLine) Function() string { return "OUT" }
