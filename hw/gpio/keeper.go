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

// exchange is what the turns and a goroutine beside them know of each other: they
// ask, and it answers when the bus lets it.
type exchange struct {
	gone chan struct{} // closed when the goroutine has ended

	mu     sync.Mutex
	asked  time.Time     // of the first question that has no answer; zero without one
	fault  error         // of the last answer
	served chan struct{} // closed at the next answer
	ended  bool
}

func newExchange() exchange {
	return exchange{gone: make(chan struct{}), served: make(chan struct{})}
}

// answered notes an answer; its caller holds mu.
func (e *exchange) answered(err error) {
	e.fault, e.asked = err, time.Time{}
	close(e.served)
	e.served = make(chan struct{})
}

// trouble is what the last answer brought, or that none comes. Nil when it may
// still be on its way.
func (e *exchange) trouble() error {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.fault == nil && !e.asked.IsZero() && time.Since(e.asked) > silence {
		return errSilent
	}
	return e.fault
}

// leave waits a while for the goroutine to end, and releases the lines as soon as
// the bus lets go of them.
func (e *exchange) leave(release func() error) error {
	select {
	case <-e.gone:
		return release()
	case <-time.After(farewell):
		go func() {
			<-e.gone
			_ = release() // nobody is left to be told
		}()
		return errSilent
	}
}

// keeper drives one output behind a bus beside the turns, and reads it back
// once for each. No turn waits for it longer than its patience: it takes what
// the keeper knows.
type keeper struct {
	out   *output
	nudge chan struct{} // holds one
	exchange
	want contact
}

// keep starts the keeper of an output, with nothing asked of it.
func keep(o *output) *keeper {
	k := &keeper{out: o, nudge: make(chan struct{}, 1), exchange: newExchange()}
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
	k.answered(err)
	if to != k.want { // it was asked for another contact meanwhile
		k.out.contact.Store(int32(unsure))
		k.asked = time.Now()
	}
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
	return k.leave(func() error { return errors.Join(k.trouble(), k.out.release()) })
}
