package gpio

import (
	"errors"
	"sync"
	"time"
)

const (
	// silence is how long a chip behind a bus may leave a question
	// unanswered. A healthy one takes a few milliseconds; one call to a bus
	// that is silent takes the kernel about 150.
	silence = 250 * time.Millisecond

	// farewell is how long the start waits for a first answer, and the end
	// for the last one.
	farewell = time.Second
)

var errSilent = errors.New("its chip does not answer")

// keeper drives one output behind a bus beside the turns, and reads it back
// once for each. No turn waits for it longer than its patience: it takes what
// the keeper knows.
type keeper struct {
	out   *output
	nudge chan struct{} // holds one
	gone  chan struct{} // closed when the keeper has ended

	mu     sync.Mutex
	want   contact
	asked  time.Time     // of the first question that has no answer; zero without one
	fault  error         // of the last answer
	served chan struct{} // closed at the next answer
	ended  bool
}

// keep starts the keeper of an output, with nothing asked of it.
func keep(o *output) *keeper {
	k := &keeper{out: o, nudge: make(chan struct{}, 1), gone: make(chan struct{}), served: make(chan struct{})}
	go k.run()
	return k
}

// run answers until end. It may sit in the kernel for as long as a bus takes.
func (k *keeper) run() {
	defer close(k.gone)
	var written time.Time
	for range k.nudge {
		k.mu.Lock()
		to, ended := k.want, k.ended
		k.mu.Unlock()
		now := time.Now()
		write := now.Sub(written) >= refresh
		if write {
			written = now
		}
		k.answer(to, k.out.confirm(to, write))
		if ended {
			return
		}
	}
}

func (k *keeper) answer(to contact, err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.fault = err
	k.asked = time.Time{}
	if to != k.want { // it was asked for another contact meanwhile
		k.out.contact.Store(int32(unsure))
		k.asked = time.Now()
	}
	close(k.served)
	k.served = make(chan struct{})
}

// ask has the relay brought to a contact, or read back when it is there
// already. It asks allowed, if given, while no other can ask.
func (k *keeper) ask(to contact, allowed func() error) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if allowed != nil {
		if err := allowed(); err != nil {
			return err
		}
	}
	if k.want != to {
		k.want = to
		k.out.contact.Store(int32(unsure))
	}
	if k.asked.IsZero() {
		k.asked = time.Now()
	}
	select {
	case k.nudge <- struct{}{}:
	default: // it is to answer already
	}
	return nil
}

// bring is what a turn asks: the relay goes to a contact, or is read back there.
// The error is what is known by now. A pump circuit behind a chip in trouble
// closes nothing.
func (k *keeper) bring(to contact, allowed func() error) error {
	if to == closed && k.out.inPumpCircuit() {
		if err := k.trouble(); err != nil {
			return k.out.fault(err)
		}
	}
	if err := k.ask(to, allowed); err != nil {
		return k.out.fault(err)
	}
	if err := k.trouble(); err != nil {
		return k.out.fault(err)
	}
	return nil
}

// trouble is why the relay may not be as commanded: what the last answer said,
// or that none comes. Nil when the answer may still be on its way.
func (k *keeper) trouble() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	switch {
	case k.fault != nil:
		return k.fault
	case !k.asked.IsZero() && time.Since(k.asked) > silence:
		return errSilent
	}
	return nil
}

// await waits until the relay is known to be at a contact, an answer brought
// trouble, or the time is over.
func (k *keeper) await(to contact, limit time.Duration) {
	over := time.NewTimer(limit)
	defer over.Stop()
	for {
		k.mu.Lock()
		served := k.served
		k.mu.Unlock()
		if k.out.is(to) || k.trouble() != nil {
			return
		}
		select {
		case <-served:
		case <-over.C:
			return
		}
	}
}

// end opens the relay, waits a while for that, and releases the line as soon
// as the bus lets go of it.
func (k *keeper) end() error {
	k.mu.Lock()
	k.ended, k.fault = true, nil
	k.mu.Unlock()
	if err := k.ask(open, nil); err != nil {
		return err
	}
	select {
	case <-k.gone:
		return errors.Join(k.trouble(), k.out.release())
	case <-time.After(farewell):
		go func() {
			<-k.gone
			_ = k.out.release() // nobody is left to be told
		}()
		return errSilent
	}
}
