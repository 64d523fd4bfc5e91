package alarm

import (
	"fmt"
	"slices"
	"strings"

	"benchtide/controller"
	"benchtide/safety"
)

// Beginnings of causes that name what they are about, and whole causes, as the
// controller gives them.
const (
	crop    = "crop-"
	low     = "low-"
	refused = "refused-"
	ways    = "messages-"
	storage = "storage"
	clock   = "clock"
	weld    = "weld"
	flood   = "flood"
	fill    = "fill"
)

// returns reports whether something will show that a cause is gone. All others
// are over as soon as somebody knows of them.
func returns(cause string) bool {
	named := slices.ContainsFunc([]string{crop, low, refused, ways}, func(p string) bool { return strings.HasPrefix(cause, p) })
	return named || isInterlock(cause) || slices.Contains([]string{weld, flood, "missed", fill, clock, storage, "hands-in", "sanitising"}, cause)
}

func isInterlock(cause string) bool {
	return slices.Contains(safety.Interlocks, safety.Interlock(cause))
}

// endsWithTheProgram reports whether only the program that told of a cause would
// have told that it is gone. One that comes after tells anew while it stands.
func endsWithTheProgram(cause string) bool {
	return cause == storage || strings.HasPrefix(cause, ways)
}

// endsWithAFlood reports whether a proven flood shows that the cause is gone.
func endsWithAFlood(a *Alarm) bool {
	if a.Urgency == controller.Urgent {
		return false
	}
	return isInterlock(a.Cause) || strings.HasPrefix(a.Cause, refused) || slices.Contains([]string{flood, "missed", fill}, a.Cause)
}

// See takes a picture of the site, after the messages of its turn: what it no
// longer shows is gone, and what it shows but nobody told of is raised. So an
// alarm is not lost with a program that died before it was written down. It
// reports whether anything changed.
func (p *Panel) See(now safety.Now, st *controller.Status) (changed bool) {
	for i := range p.alarms {
		if a := &p.alarms[i]; a.Active && p.gone(a, st) {
			p.leave(a, "")
			changed = true
		}
	}
	arisen := p.nextID
	for b := range st.Benches {
		for _, t := range st.Benches[b].Latched {
			p.recall(now, b, string(t.Interlock), controller.Parts{
				Happened: controller.Spaced(p.bench(b)) + ": " + controller.Phrase(t.Interlock, t.Detail, p.bench(b)) + ".",
				Done:     "Its pump stays off until a person resets it.", Do: strings.TrimSpace(controller.Remedy(t.Interlock, t.Detail) + " Then reset the bench."),
			})
		}
	}
	for i := range st.Batches {
		if k := &st.Batches[i]; k.Ratio >= 1 && i < len(p.names.Batches) {
			p.recall(now, p.names.Standing[i], crop+p.names.Batches[i], controller.Parts{
				Happened: fmt.Sprintf("%s on %s has waited longer than it can.", controller.Spaced(p.names.Batches[i]), controller.Spaced(p.bench(p.names.Standing[i]))),
				Do:       "Water it by hand now.",
			})
		}
	}
	return changed || p.nextID != arisen
}

// recall raises what a picture shows unless it stands already.
func (p *Panel) recall(now safety.Now, bench int, cause string, parts controller.Parts) {
	if a := p.telling(p.bench(bench), cause); a != nil && a.Active && a.Urgency == controller.Urgent {
		return
	}
	p.Raise(now, controller.Message{Urgency: controller.Urgent, Bench: bench, Cause: cause, Text: parts.Text(), Parts: parts})
}

// gone reports whether a picture shows that the cause of an alarm is no more.
func (p *Panel) gone(a *Alarm, st *controller.Status) bool {
	switch {
	case a.Cause == weld, isInterlock(a.Cause) && slices.ContainsFunc(a.Also, locks):
		return !p.latched(a.Bench, "", st)
	case isInterlock(a.Cause) && a.Urgency == controller.Urgent:
		return !p.latched(a.Bench, safety.Interlock(a.Cause), st)
	case strings.HasPrefix(a.Cause, low):
		i := slices.Index(p.names.Reservoirs, strings.TrimPrefix(a.Cause, low))
		return i >= 0 && i < len(st.Reservoirs) && st.Reservoirs[i].Low == safety.Wet
	case a.Cause == clock:
		return st.Now.Trusted
	case a.Cause == "hands-in":
		return !st.HandsIn
	case a.Cause == "sanitising":
		i := slices.Index(p.names.Benches, a.Bench)
		return i >= 0 && i < len(st.Benches) && st.Benches[i].Sanitising.IsZero()
	}
	return false
}

// latched reports whether an interlock, or any for "", is latched on a bench,
// or on any for "".
func (p *Panel) latched(bench string, which safety.Interlock, st *controller.Status) bool {
	for b := range st.Benches {
		if bench != "" && p.bench(b) != bench {
			continue
		}
		s := &st.Benches[b]
		if s.Start.Latched && (which == "" || s.Start.Interlock == which) {
			return true
		}
		if slices.ContainsFunc(s.Latched, func(t safety.Trip) bool { return which == "" || t.Interlock == which }) {
			return true
		}
	}
	return false
}
