package commission

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"benchtide/controller/quantity"
)

// Person is whoever stands beside the bench. None of the methods waits; now is
// the boot-time clock.
type Person interface {
	// Say shows a line.
	Say(text string)
	// Ask begins a question. Its answer comes by Answer, or by Hold.
	Ask(question string)
	// Answer gives the answer to the question once there is one. An error
	// means that none will come.
	Answer(now time.Duration) (text string, ok bool, err error)
	// Hold reports whether the key that keeps the pump running is down.
	Hold(now time.Duration) (bool, error)
}

// Act is what a person is asked to do to one thing of the bench.
type Act string

// The acts. Wet lifts a float, wets a pad or presses a button; Dry undoes it.
const (
	Wet    Act = "wet"
	Dry    Act = "dry"
	Open   Act = "open"   // open the wire
	Rejoin Act = "rejoin" // close it again
	Bridge Act = "bridge" // bridge the two wires
	Part   Act = "part"   // take the bridge away

	HoldDown Act = "hold"   // keep a float down in water
	Free     Act = "free"   // let it go
	Pull     Act = "pull"   // take the signal wire of an output from its relay
	PutBack  Act = "put"    // put it back
	Unplug   Act = "unplug" // the pump of a bench
	PlugIn   Act = "plug"
	SetRight Act = "set" // the clock

	Restart  Act = "restart" // the machine, as do the next but Kill, which ends the program alone
	CutPower Act = "cut"
	SetWrong Act = "misdate" // the clock, then restart
	Kill     Act = "kill"
)

// Hands do at a simulated bench what a person does at a real one.
type Hands interface {
	// Do acts on a switch, named as "north.full", "tank.low" or "hands_in", on
	// an output or on the pump of a bench, by their names; or it ends the
	// program or its machine.
	Do(a Act, where string) error
	// Return brings back what an act has ended, and names the boot.
	Return(a Act) (boot string, err error)
	// Scale reads a reservoir to the nearest litre.
	Scale(reservoir int) quantity.Litres
	// Closed reports whether the contact of an output's relay is closed.
	Closed(output int) bool
}

// Script answers from a file, an answer a line, in the order of the questions.
// Empty lines and lines that begin with # count for nothing. A line may begin
// with the time that passes before the answer, or for which the key is held
// down: "[9 min] yes".
type Script struct {
	out   io.Writer
	lines []scripted

	asked   string
	began   bool
	since   time.Duration // when the open question was first looked at
	present scripted
}

type scripted struct {
	after time.Duration
	text  string
}

// ErrOut says that a script has no answer left.
var ErrOut = errors.New("the answers end here")

// NewScript reads the answers, and shows what is said on out.
func NewScript(name string, answers io.Reader, out io.Writer) (*Script, error) {
	s := &Script{out: out}
	for lines, n := bufio.NewScanner(answers), 1; ; n++ {
		if !lines.Scan() {
			return s, lines.Err()
		}
		text := strings.TrimSpace(lines.Text())
		if text == "" || text[0] == '#' {
			continue
		}
		line, err := parseScripted(text)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, n, err)
		}
		s.lines = append(s.lines, line)
	}
}

func parseScripted(text string) (scripted, error) {
	if text[0] != '[' {
		return scripted{text: text}, nil
	}
	after, rest, found := strings.Cut(text[1:], "]")
	if !found {
		return scripted{}, fmt.Errorf("%q: close the bracket: [9 min] yes", text)
	}
	d, err := quantity.ParseDuration(after)
	return scripted{d, strings.TrimSpace(rest)}, err
}

// Say shows a line.
func (s *Script) Say(text string) { fmt.Fprintln(s.out, text) }

// Ask takes the next answer up.
func (s *Script) Ask(question string) {
	fmt.Fprintf(s.out, "? %s\n", question)
	s.asked, s.began = question, false
}

// Answer gives the next answer when its time has passed.
func (s *Script) Answer(now time.Duration) (string, bool, error) {
	if err := s.begin(now); err != nil {
		return "", false, err
	}
	if now < s.since+s.present.after {
		return "", false, nil
	}
	fmt.Fprintf(s.out, "> %s\n", s.present.text)
	return s.present.text, true, nil
}

// Hold holds the key down for the time of the next answer.
func (s *Script) Hold(now time.Duration) (bool, error) {
	err := s.begin(now)
	return now < s.since+s.present.after, err
}

// begin takes the next line for the open question.
func (s *Script) begin(now time.Duration) error {
	if s.began {
		return nil
	}
	if len(s.lines) == 0 {
		return fmt.Errorf("%w, before: %s", ErrOut, s.asked)
	}
	s.began, s.since, s.present, s.lines = true, now, s.lines[0], s.lines[1:]
	return nil
}
