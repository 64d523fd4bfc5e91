package boardtest

import (
	"fmt"
	"time"
)

// Relay is a relay coil on a line.
type Relay struct {
	Name string
	Line int
	High bool // energises on a high level, else on a low one
}

// elsewhere is the line of a relay that hangs on another chip: the world outside
// does not see it, and its pump moves nothing.
const elsewhere = -1

// energised reports whether the relay is on. A floating line counts as
// energising it: nothing then says that it is not.
func (r Relay) energised(p *Pins) bool {
	return r.Line != elsewhere && p.High(r.Line, r.High) == r.High
}

// Circuit is a pump's: its own relay and the enable relay in series.
type Circuit struct{ Pump, Enable Relay }

// Span is how long something was energised. To is zero while it still was at
// the end of the record.
type Span struct{ From, To time.Time }

func (s Span) String() string {
	if s.To.IsZero() {
		return fmt.Sprintf("from %s to the end", s.From.Format(stampFormat))
	}
	return fmt.Sprintf("from %s for %v", s.From.Format(stampFormat), s.To.Sub(s.From))
}

const stampFormat = "15:04:05.000000"

// Energised returns when the relay was on, from power-on to the end of the
// record, however short.
func (r Relay) Energised(writes []Write) []Span { return spans(writes, r.energised) }

// Energised returns when both contacts of the circuit were closed.
func (c Circuit) Energised(writes []Write) []Span {
	return spans(writes, func(p *Pins) bool { return c.Pump.energised(p) && c.Enable.energised(p) })
}

// spans replays the record and returns when on held.
func spans(writes []Write, on func(*Pins) bool) []Span {
	p := NewPins()
	var all []Span
	was := false
	if len(writes) > 0 && on(p) {
		all, was = append(all, Span{From: writes[0].At}), true
	}
	for _, w := range writes {
		p.Write(w.Offset, w.Value)
		is := on(p)
		switch {
		case is && !was:
			all = append(all, Span{From: w.At})
		case was && !is:
			all[len(all)-1].To = w.At
		}
		was = is
	}
	return all
}
