package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

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
}

// keyRepeats is the longest gap between two lines while Enter is held down: a
// keyboard waits for about half a second before it repeats (common practice).
const keyRepeats = 1500 * time.Millisecond

func newTerminal(in io.Reader, out io.Writer) *terminal {
	t := &terminal{out: out, lines: make(chan string, 1)}
	go func() {
		defer close(t.lines)
		for s := bufio.NewScanner(in); s.Scan(); {
			t.lines <- s.Text()
		}
	}()
	return t
}

func (t *terminal) Say(text string) { fmt.Fprintln(t.out, text) }

// Ask forgets lines that were typed before the question.
func (t *terminal) Ask(question string) {
	for ok := true; ok; {
		_, ok = t.line()
	}
	t.last = time.Time{}
	fmt.Fprintf(t.out, "%s: ", question)
}

func (t *terminal) Answer(time.Duration) (string, bool, error) {
	text, ok := t.line()
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
	switch a {
	case commission.Open:
		return h.world.Inject(sim.Fault{What: "wire-open", Where: where})
	case commission.Bridge:
		return h.world.Inject(sim.Fault{What: "wire-short", Where: where})
	case commission.Rejoin:
		h.world.Clear("wire-open", where)
		return nil
	case commission.Part:
		h.world.Clear("wire-short", where)
		return nil
	}
	if where == "hands_in" {
		h.world.Press(a == commission.Wet)
		return nil
	}
	down := strings.HasSuffix(where, ".low") // whose float is moved by pushing it down
	return h.world.Lift(where, (a == commission.Wet) != down)
}

func (h hands) Scale(reservoir int) quantity.Litres {
	return quantity.Litres(math.Round(h.world.Litres(reservoir)))
}

func (h hands) Closed(output int) bool { return h.world.Outputs[output].Contact }
