package gpio

import (
	"errors"
	"slices"
	"sync"
	"sync/atomic"

	"periph.io/x/conn/v3/gpio"

	"benchtide/hw"
	"benchtide/safety"
)

// contact is what was last commanded of a relay, as far as it is known.
type contact int32

const (
	unsure contact = iota // never written, or its last write failed
	open
	closed
)

// output is one relay.
type output struct {
	Output
	index int
	at    berth

	mu       sync.Mutex // guards pin and released
	pin      *outputLine
	released bool

	contact atomic.Int32

	kept *keeper // of an output behind a bus; nil of the processor's own
}

func (o *output) is(c contact) bool { return contact(o.contact.Load()) == c }

// inPumpCircuit reports whether the output is a pump or its enable relay.
func (o *output) inPumpCircuit() bool { return o.Kind != safety.Other }

var errReleased = errors.New("the board is closed")

// settle says where the output's line is.
func (o *output) settle(h host, at berth) {
	o.at = at
	o.pin = newOutputLine(h, o.Line.String(), o.Name, at)
}

// drive opens or closes the relay. It asks allowed, if given, at the last
// moment.
func (o *output) drive(to contact, allowed func() error) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.released {
		return o.fault(errReleased)
	}
	// Unsure comes before the question: whoever overtakes this write from
	// here on either makes the answer no or sees that the relay needs opening.
	before := o.contact.Swap(int32(unsure))
	if allowed != nil {
		if err := allowed(); err != nil {
			o.contact.Store(before)
			return o.fault(err)
		}
	}
	if err := o.pin.Out(o.level(to)); err != nil {
		return o.fault(err)
	}
	o.contact.Store(int32(to))
	return nil
}

func (o *output) fault(err error) error {
	return &hw.OutputError{Output: o.index, Name: o.Name, Behind: o.kept != nil, Err: err}
}

// level is the electrical level of a contact.
func (o *output) level(c contact) gpio.Level {
	return gpio.Level((c == closed) == o.EnergiseHigh)
}

// bring has the relay open or close: at once, or by its keeper.
func (o *output) bring(to contact, allowed func() error) error {
	if o.kept != nil {
		return o.kept.bring(to, allowed)
	}
	return o.drive(to, allowed)
}

// confirm brings a relay behind a bus to a contact and reads its line back, by
// a get on the line's own request: there a write succeeds with nobody there. A
// line that closes is requested anew, since a chip that lost its power
// meanwhile came back with nothing but inputs. After an error the line is
// released, to be requested anew by the next call.
func (o *output) confirm(to contact, write bool) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.released {
		return errReleased
	}
	was := contact(o.contact.Load())
	if to == closed && was != closed {
		if err := o.pin.Halt(); err != nil {
			return err
		}
	}
	var err error
	if write || was != to || !o.pin.claimed() {
		err = o.pin.Out(o.level(to))
	}
	if err == nil {
		err = o.pin.readBack(o.level(to))
	}
	if err != nil {
		to = unsure
	}
	o.contact.Store(int32(to))
	return err
}

func (o *output) release() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.released = true
	return o.pin.Halt()
}

// closingOrder has enable before the pumps, so that its contact never makes a
// load.
func closingOrder(outputs []*output) []*output {
	return byKind(outputs, safety.Enable, safety.FloodPump, safety.Stirrer, safety.Other)
}

// openingOrder has the pumps before enable, so that its contact never breaks
// a load.
func openingOrder(outputs []*output) []*output {
	return byKind(outputs, safety.FloodPump, safety.Stirrer, safety.Enable, safety.Other)
}

func byKind(outputs []*output, kinds ...safety.OutputKind) []*output {
	sorted := slices.Clone(outputs)
	slices.SortStableFunc(sorted, func(a, b *output) int {
		return slices.Index(kinds, a.Kind) - slices.Index(kinds, b.Kind)
	})
	return sorted
}
