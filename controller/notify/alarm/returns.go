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
	crop     = "crop-"
	low      = "low-"
	refused  = "refused-"
	channels = "messages-"
	silent   = "thermometer-"
	storage  = "storage"
	settings = "settings"
	output   = "output"
	clock    = "clock"
	weld     = "weld"
	flood    = "flood"
	fill     = "fill"
)

// returns reports whether something will show that a cause is gone. All others
// are over as soon as somebody knows of them.
func returns(cause string) bool {
	named := slices.ContainsFunc([]string{crop, low, refused, channels, silent}, func(p string) bool { return strings.HasPrefix(cause, p) })
	return named || isInterlock(cause) || slices.Contains([]string{weld, flood, "missed", fill, clock, storage, settings, output, "hands-in", "sanitising"}, cause)
}

func isInterlock(cause string) bool {
	return slices.Contains(safety.Interlocks, safety.Interlock(cause))
}

// endsWithTheProgram reports whether only the program that told of a cause would
// have told that it is gone. One that comes after tells anew while it stands.
func endsWithTheProgram(cause string) bool {
	return slices.Contains([]string{storage, settings, output}, cause) || strings.HasPrefix(cause, channels)
}

// endsWithAFlood reports whether a proven flood shows that the cause is gone.
func endsWithAFlood(a *Alarm) bool {
	if a.Urgency == controller.Urgent {
		return false
	}
	return isInterlock(a.Cause) || strings.HasPrefix(a.Cause, refused) || slices.Contains([]string{flood, "missed", fill}, a.Cause)
}

// See takes a snapshot of the site, after the messages of its turn: what it no
// longer shows is gone, and what it shows but nobody told of is raised. So an
// alarm is not lost with a program that died before it was written down. It
// reports whether anything changed.
func (l *List) See(now safety.Now, st *controller.Status) (changed bool) {
	for i := range l.alarms {
		if a := &l.alarms[i]; a.Active && l.gone(a, st) {
			l.leave(a, "")
			changed = true
		}
	}
	arisen := l.nextID
	for b := range st.Benches {
		for _, t := range st.Benches[b].Latched {
			l.recall(now, b, string(t.Interlock), controller.Parts{
				Happened: l.names.Titles.Bench(l.bench(b)) + ": " + controller.Phrase(l.names.Titles, t.Interlock, t.Detail, l.bench(b)) + ".",
				Done:     "Its pump stays off until a person resets it.", Do: strings.TrimSpace(controller.Remedy(t.Interlock, t.Detail) + " Then reset the bench."),
			})
		}
	}
	for i := range st.Batches {
		if k := &st.Batches[i]; k.Ratio >= 1 && i < len(l.names.Batches) {
			l.recall(now, l.names.BenchOf[i], crop+l.names.Batches[i], controller.Parts{
				Happened: fmt.Sprintf("%s on %s has waited longer than it can.", l.names.Titles.Batch(l.names.Batches[i]), l.names.Titles.Bench(l.bench(l.names.BenchOf[i]))),
				Do:       "Water it by hand now.",
			})
		}
	}
	return changed || l.nextID != arisen
}

// recall raises what a snapshot shows unless it stands already.
func (l *List) recall(now safety.Now, bench int, cause string, parts controller.Parts) {
	if a := l.telling(l.bench(bench), cause); a != nil && a.Active && a.Urgency == controller.Urgent {
		return
	}
	l.Raise(now, controller.Message{Urgency: controller.Urgent, Bench: bench, Cause: cause, Text: parts.Text(), Parts: parts})
}

// gone reports whether a snapshot shows that the cause of an alarm is no more.
func (l *List) gone(a *Alarm, st *controller.Status) bool {
	switch {
	case a.Cause == weld, isInterlock(a.Cause) && slices.ContainsFunc(a.Also, locks):
		return !l.latched(a.Bench, "", st)
	case isInterlock(a.Cause) && a.Urgency == controller.Urgent:
		return !l.latched(a.Bench, safety.Interlock(a.Cause), st)
	case strings.HasPrefix(a.Cause, low):
		i := slices.Index(l.names.Reservoirs, strings.TrimPrefix(a.Cause, low))
		return i >= 0 && i < len(st.Reservoirs) && st.Reservoirs[i].Low == safety.Wet
	case a.Cause == clock:
		return st.Now.Trusted
	case a.Cause == "hands-in":
		return !st.HandsIn
	case a.Cause == "sanitising":
		i := slices.Index(l.names.Benches, a.Bench)
		return i >= 0 && i < len(st.Benches) && st.Benches[i].Sanitising.IsZero()
	}
	return false
}

// latched reports whether an interlock, or any for "", is latched on a bench,
// or on any for "".
func (l *List) latched(bench string, which safety.Interlock, st *controller.Status) bool {
	for b := range st.Benches {
		if bench != "" && l.bench(b) != bench {
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
