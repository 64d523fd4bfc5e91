package gpio

import (
	"errors"
	"fmt"
	"strings"

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
	host host
	name string
	use  string
	at   berth
	lost bool // its chip may have another number by now
	fd   int
}

var _ gpio.PinOut = (*outputLine)(nil)

func newOutputLine(h host, name, use string, at berth) *outputLine {
	return &outputLine{host: h, name: name, use: use, at: at, fd: unclaimed}
}

// Out drives the line. After an error the line is released, and its level is
// whatever its chip and its pull make of that.
func (l *outputLine) Out(level gpio.Level) error {
	if l.fd == unclaimed {
		return l.claim(level)
	}
	if err := l.host.kernel.Set(l.fd, bool(level)); err != nil {
		l.lost = true
		return errors.Join(err, l.Halt())
	}
	return nil
}

func (l *outputLine) claim(level gpio.Level) error {
	if err := l.find(); err != nil {
		return err
	}
	fd, err := l.host.kernel.Request(request{
		chip:     l.at.chip,
		label:    l.at.home.label,
		consumer: "benchtide " + l.use,
		offsets:  []uint32{l.at.offset},
		output:   true,
		initial:  bool(level),
	})
	if err != nil {
		l.lost = true
		return err
	}
	l.fd = fd
	return nil
}

func (l *outputLine) claimed() bool { return l.fd != unclaimed }

// readBack asks the chip whether the line has this level. When it has not, or
// does not answer, the line is released.
func (l *outputLine) readBack(level gpio.Level) error {
	bits, err := l.host.kernel.Get(l.fd, 1)
	if err == nil && (bits != 0) != bool(level) {
		err = fmt.Errorf("it was driven %s and reads %s", strings.ToLower(level.String()), strings.ToLower((!level).String()))
	}
	if err != nil {
		l.lost = true
		return errors.Join(fmt.Errorf("read back: %w", err), l.Halt())
	}
	return nil
}

// find looks the line's chip up again after something failed: a chip that went
// and came back may have another number.
func (l *outputLine) find() error {
	if !l.lost {
		return nil
	}
	at, err := l.host.again(l.at.home)
	if err != nil {
		return err
	}
	l.at.lineID, l.lost = at, false
	return nil
}

// Halt releases the line.
func (l *outputLine) Halt() error {
	if l.fd == unclaimed {
		return nil
	}
	fd := l.fd
	l.fd = unclaimed
	return l.host.kernel.Close(fd)
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

// Function returns "OUT". It does not ask the hardware.
func (l *outputLine) Function() string { return "OUT" }
