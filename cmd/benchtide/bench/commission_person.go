package bench

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/commission"
	"benchtide/controller/quantity"
	"benchtide/hw/sim"
)

// terminal is a person who reads lines and types answers.
type terminal struct {
	out   io.Writer
	lines chan string
	last  time.Time // when a line came last
	ended error
	open  string // the question that waits for its answer
	wipe  string // takes a question off the line that it stands on
}

// keyRepeats is the longest gap between two lines while Enter is held down: a
// keyboard waits for about half a second before it repeats (common practice).
const keyRepeats = 1500 * time.Millisecond

func newTerminal(in io.Reader, out io.Writer) *terminal {
	t := &terminal{out: out, lines: make(chan string, 1), wipe: "\n"}
	if cli.IsTerminal(out) {
		t.wipe = "\r\x1b[K"
	}
	go func() {
		defer close(t.lines)
		for s := bufio.NewScanner(in); s.Scan(); {
			t.lines <- s.Text()
		}
	}()
	return t
}

// Say shows a line. A question that waits stands below it again, so that none
// scrolls away.
func (t *terminal) Say(text string) {
	if t.open == "" {
		fmt.Fprintln(t.out, text)
		return
	}
	fmt.Fprintf(t.out, "%s%s\n%s: ", t.wipe, text, t.open)
}

// Ask forgets lines that were typed before the question.
func (t *terminal) Ask(question string) {
	for ok := true; ok; {
		_, ok = t.line()
	}
	t.last, t.open = time.Time{}, question
	fmt.Fprintf(t.out, "%s: ", question)
}

func (t *terminal) Answer(time.Duration) (string, bool, error) {
	text, ok := t.line()
	if ok {
		t.open = ""
	}
	return text, ok, t.ended
}

func (t *terminal) Hold(time.Duration) (bool, error) {
	for {
		if _, ok := t.line(); !ok {
			return time.Since(t.last) < keyRepeats, t.ended
		}
		t.last = time.Now()
	}
}

// line is a line that waits, if there is one.
func (t *terminal) line() (string, bool) {
	select {
	case text, ok := <-t.lines:
		if !ok && t.ended == nil {
			t.ended = fmt.Errorf("%w: the terminal is closed", commission.ErrOut)
		}
		return text, ok
	default:
		return "", false
	}
}

// hands do at the simulated bench what a person is asked to do.
type hands struct{ world *sim.World }

func (h hands) Do(a commission.Act, where string) error {
	if f, ok := faultOf[a]; ok {
		return h.world.Inject(sim.Fault{What: f, Where: benchOf(a, where)})
	}
	if f, ok := faultOf[undone[a]]; ok {
		h.world.Clear(f, benchOf(undone[a], where))
		return nil
	}
	switch a {
	case commission.Wet, commission.Dry:
		return h.move(a == commission.Wet, where)
	case commission.SetRight:
		h.world.Trust(true)
		return h.world.Inject(sim.Fault{What: "clock-jump", For: setBack})
	case commission.SetWrong:
		h.world.Trust(false)
		back := h.world.Inject(sim.Fault{What: "clock-jump", For: setBack, Size: -1})
		return errors.Join(back, h.world.Inject(sim.Fault{What: "power-cut", For: dark}))
	case commission.Kill:
		return h.world.Inject(sim.Fault{What: "process-crash"})
	}
	return h.world.Inject(sim.Fault{What: "power-cut", For: dark})
}

// faultOf are the faults by which a simulated bench does what is asked, undone
// what ends each.
var (
	faultOf = map[commission.Act]string{
		commission.Open: "wire-open", commission.Bridge: "wire-short", commission.HoldDown: "full-stuck-low",
		commission.Pull: "relay-open", commission.Unplug: "pump-dead",
	}
	undone = map[commission.Act]commission.Act{
		commission.Rejoin: commission.Open, commission.Part: commission.Bridge, commission.Free: commission.HoldDown,
		commission.PutBack: commission.Pull, commission.PlugIn: commission.Unplug,
	}
)

const (
	setBack = 365 * 24 * time.Hour // how far the clock is set back
	dark    = 30 * time.Second     // how long the machine is down
)

// benchOf is where the fault of an act is: that of a held float is the bench's.
func benchOf(a commission.Act, where string) string {
	if a == commission.HoldDown {
		where, _, _ = strings.Cut(where, ".")
	}
	return where
}

func (h hands) move(wet bool, where string) error {
	if where == "hands_in" {
		h.world.Press(wet)
		return nil
	}
	down := strings.HasSuffix(where, ".low") // whose float is moved by pushing it down
	return h.world.Lift(where, wet != down)
}

// Return brings the machine back.
func (h hands) Return(commission.Act) (string, error) {
	h.world.Advance(h.world.Elapsed() + dark)
	err := h.world.Start()
	return fmt.Sprintf("trial %d", h.world.Host().Boots), err
}

func (h hands) Scale(reservoir int) quantity.Litres {
	return quantity.Litres(math.Round(h.world.Litres(reservoir)))
}

func (h hands) Closed(output int) bool { return h.world.Outputs[output].Contact }
