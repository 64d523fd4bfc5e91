package gpio

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"benchtide/hw"
	"benchtide/safety"
)

const (
	// The control period while a pump circuit may be energised, and while none is.
	periodClosed = 10 * time.Millisecond
	periodOpen   = 250 * time.Millisecond

	// refresh is how often every output is written although nothing changed.
	// The same level again makes no pulse, undoes what a foreign program did
	// to the line, and finds a chip that went away before it is needed.
	refresh = time.Second

	// patience is how long one output may take to open before the next one is
	// opened beside it. A write takes microseconds on the processor's own
	// lines and about a millisecond on an expander.
	patience = 5 * time.Millisecond
)

// Board is a site's relays and switches on GPIO lines. Read and NextRead
// belong to the loop; Apply of the zero Command and Close may be called beside
// it at any time.
type Board struct {
	config       Config
	host         host
	closing      []*output // enable before pumps; also the order of claiming
	opening      []*output // pumps before enable
	banks        []*bank
	thermometers *thermometers

	now     atomic.Int64  // boot-time clock of the last Read
	written atomic.Int64  // boot-time clock of the last refresh
	turn    atomic.Uint64 // counts Commands: a later one overtakes an earlier one
	ended   atomic.Bool   // Close was called
}

var _ hw.Board = (*Board)(nil)

// Open claims every line of the wiring and returns the board with every output
// off. Lines are looked at first, and refused all at once, before any is
// touched; then the outputs are claimed, enable first, and then the switches.
// An error names the line, the likely cause and what to do.
func Open(c Config) (*Board, error) {
	h, err := systemHost()
	if err != nil {
		return nil, err
	}
	return openOn(h, c)
}

// Off puts every output off and releases it. It goes on past outputs that
// refuse, and returns all their errors. A chip that lets go of a released line
// leaves it to the hardware pull; one that does not keeps driving "off".
func Off(c Config) error {
	h, err := systemHost()
	if err != nil {
		return err
	}
	return offOn(h, c)
}

func openOn(h host, c Config) (*Board, error) {
	switches := c.fitted()
	berths, err := h.survey(wants(c.Outputs, switches))
	if err != nil {
		return nil, err
	}
	b := newBoard(h, c, switches, berths)
	if err := b.claim(); err != nil {
		return nil, errors.Join(err, b.release())
	}
	b.thermometers.start()
	return b, nil
}

// offOn claims the outputs one by one, so that a line which is missing or held
// keeps none of the others on.
func offOn(h host, c Config) error {
	b := newBoard(h, Config{Outputs: c.Outputs}, nil, make([]berth, len(c.Outputs)))
	d := h.directory()
	var faults []error
	for _, o := range b.closing {
		w := o.want()
		w.enable = false // wherever it hangs, it is to open
		at, err := h.inspect(d, w)
		if err == nil {
			o.settle(h, at)
			err = b.claimOutput(o)
		}
		faults = append(faults, err)
	}
	return errors.Join(append(faults, b.release())...)
}

// wants lists the lines of outputs, then those of switches.
func wants(outputs []Output, switches []fitted) []want {
	var all []want
	for _, o := range outputs {
		all = append(all, o.want())
	}
	for _, s := range switches {
		all = append(all, want{line: s.Line, use: s.use})
	}
	return all
}

func (o Output) want() want {
	return want{o.Line, fmt.Sprintf("output %q", o.Name), o.Kind == safety.Enable}
}

func newBoard(h host, c Config, switches []fitted, berths []berth) *Board {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	b := &Board{config: c, host: h, thermometers: newThermometers(c.Reservoirs, h.readFile)}
	var outputs []*output
	for i, o := range c.Outputs {
		out := &output{Output: o, index: i}
		out.settle(h, berths[i])
		outputs = append(outputs, out)
	}
	b.closing, b.opening = closingOrder(outputs), openingOrder(outputs)
	b.banks = banks(h, switches, berths[len(c.Outputs):])
	return b
}

func (b *Board) claim() error {
	for _, o := range b.closing {
		if err := b.claimHealing(o); err != nil {
			return err
		}
	}
	for _, bank := range b.banks {
		err := bank.start()
		if err != nil && bank.watched && !refused(err) {
			b.config.Log.Error("switches cannot be read", "lines", bank.String(), "err", err)
			err = nil // it heals
		}
		if err != nil {
			return explain("claim the switch lines "+bank.String(), err, b.host.holder(bank.lineIDs()...))
		}
	}
	return nil
}

// claimHealing claims one output with "off" as its first level. A chip behind a
// bus that does not answer is no reason not to start: it heals, and every turn
// tells of it until then.
func (b *Board) claimHealing(o *output) error {
	err := b.claimOutput(o)
	if err != nil && o.kept != nil && !refused(err) {
		b.config.Log.Error("an output does not answer", "output", o.Name, "err", err)
		return nil
	}
	return err
}

// refused reports whether a person has to change something before a line can
// be had.
func refused(err error) bool {
	return errors.Is(err, syscall.EBUSY) || errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTTY)
}

// claimOutput claims one output with "off" as its first level, and reads it
// back behind a bus.
func (b *Board) claimOutput(o *output) error {
	var err error
	if o.at.home.own {
		err = o.drive(open, nil)
	} else {
		o.kept = keep(o)
		err = o.kept.bring(open, nil)
		o.kept.await(open, farewell)
		err = errors.Join(err, o.kept.trouble())
	}
	if err == nil && !o.is(open) {
		err = errSilent
	}
	if err != nil {
		return explain(o.want().String(), err, b.host.holder(o.at.lineID))
	}
	return nil
}

// Read reads every switch once. See hw.Board.
func (b *Board) Read(now safety.Now, r *safety.Readings) {
	b.now.Store(int64(now.Mono))
	for _, bank := range b.banks {
		before := bank.fault
		bank.hand(now, r)
		b.logChange(bank, before)
	}
	b.thermometers.read(now, r)
}

// logChange tells once that a bank stopped or went back to answering; the
// readings tell it every turn.
func (b *Board) logChange(bank *bank, before error) {
	switch {
	case bank.fault != nil && before == nil:
		b.config.Log.Error("switches cannot be read", "lines", bank.String(), "err", bank.fault)
	case bank.fault == nil && before != nil:
		b.config.Log.Info("switches can be read again", "lines", bank.String())
	}
}

// Apply drives the outputs to c. See hw.Board for the order. An output that
// failed is claimed anew by the next Apply. While a pump or an enable relay
// would not open, or enable would not close, no pump circuit closes; other
// outputs are driven all the same. An Apply overtaken by a later one closes
// nothing more and returns an error.
//
// One output that hangs does not keep the others from opening, but Apply
// returns only when all have answered.
func (b *Board) Apply(c safety.Command) error {
	turn := b.turn.Add(1)
	if b.ended.Load() {
		return errReleased
	}
	all := b.refreshDue()
	due := func(o *output, to contact) bool {
		return c.On(o.index) == (to == closed) && (all || o.kept != nil || !o.is(to))
	}
	circuit, other := b.openAll(func(o *output) bool { return due(o, open) })
	unsettled := b.unsettled(c)
	for _, o := range b.closing {
		switch {
		case !due(o, closed):
		case !o.inPumpCircuit():
			other = errors.Join(other, o.bring(closed, b.latest(turn)))
		case circuit == nil && !unsettled:
			circuit = o.bring(closed, b.latest(turn))
		}
	}
	return errors.Join(circuit, other)
}

// unsettled reports whether a pump behind a bus is still on its way to open:
// until its keeper has read that back, the turns to come close no pump circuit.
func (b *Board) unsettled(c safety.Command) bool {
	for _, o := range b.opening {
		if o.kept != nil && o.inPumpCircuit() && !c.On(o.index) && !o.is(open) {
			return true
		}
	}
	return false
}

// refreshDue reports whether every output is to be written this turn.
func (b *Board) refreshDue() bool {
	now := b.now.Load()
	if time.Duration(now-b.written.Load()) < refresh {
		return false
	}
	b.written.Store(now)
	return true
}

// latest allows a relay to close while turn is the latest Command.
func (b *Board) latest(turn uint64) func() error {
	return func() error {
		if b.turn.Load() != turn {
			return errOvertaken
		}
		return nil
	}
}

var errOvertaken = errors.New("overtaken by a later command")

// openAll opens the outputs that are due, in order, each after the one before
// it answered or used up its patience. It returns the faults of pump circuits
// and those of other outputs.
func (b *Board) openAll(due func(*output) bool) (circuit, other error) {
	faults := make([]error, len(b.opening))
	b.askKept(due)
	var running sync.WaitGroup
	for i, o := range b.opening {
		if !due(o) {
			continue
		}
		if o.kept != nil {
			faults[i] = o.kept.bring(open, nil)
			continue
		}
		done := make(chan struct{})
		running.Go(func() {
			defer close(done)
			faults[i] = o.drive(open, nil)
		})
		select {
		case <-done:
		case <-time.After(patience):
		}
	}
	running.Wait()
	for i, o := range b.opening {
		if o.inPumpCircuit() {
			circuit = errors.Join(circuit, faults[i])
		} else {
			other = errors.Join(other, faults[i])
		}
	}
	return circuit, other
}

// askKept has the outputs behind a bus opened that are due, all at once, and
// gives them one patience in all, so that a pump opens before its enable relay
// where its bus is quick, and holds nothing up where it is not.
func (b *Board) askKept(due func(*output) bool) {
	until := time.Now().Add(patience)
	for _, o := range b.opening {
		if o.kept != nil && due(o) {
			_ = o.kept.ask(open, nil) // nothing forbids to open
		}
	}
	for _, o := range b.opening {
		if o.kept != nil && due(o) && o.inPumpCircuit() && !o.is(open) {
			o.kept.await(open, time.Until(until))
		}
	}
}

// NextRead is one control period ahead: the short one until every pump and
// enable relay is known to be open.
func (b *Board) NextRead(now time.Duration) time.Duration {
	for _, o := range b.opening {
		if o.inPumpCircuit() && !o.is(open) {
			return now + periodClosed
		}
	}
	return now + periodOpen
}

// Close opens every output and releases all lines. A second call does nothing.
func (b *Board) Close() error {
	if b.ended.Swap(true) {
		return nil
	}
	b.turn.Add(1)
	circuit, other := b.openAll(func(*output) bool { return true })
	return errors.Join(circuit, other, b.release())
}

// release lets go of all lines, as they are, and of the thermometers.
func (b *Board) release() error {
	b.thermometers.stop()
	faults := make([]error, len(b.opening)+len(b.banks))
	var ending sync.WaitGroup
	for i, o := range b.opening {
		if o.kept == nil {
			faults[i] = o.release()
			continue
		}
		ending.Go(func() {
			if err := o.kept.end(); err != nil {
				faults[i] = o.fault(err)
			}
		})
	}
	for i, bank := range b.banks {
		faults[len(b.opening)+i] = bank.end()
	}
	ending.Wait()
	return errors.Join(faults...)
}
