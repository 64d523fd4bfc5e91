package alarm

import (
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// A trip, the flood that it cut, a drain that is late for the same reason and
// the floods that are refused because of it are one alarm: one cause, with its
// history.

// mostHistory is how much of its history an alarm keeps; of more, the latest.
const mostHistory = 30

// Past is one thing that happened under an alarm.
type Past struct {
	At   time.Time `json:"at"`
	Text string    `json:"text"`
}

func (a *Alarm) remember(at time.Time, text string) {
	a.History = append(slices.Clone(a.History), Past{at, text})
	if over := len(a.History) - mostHistory; over > 0 {
		a.History = a.History[over:]
	}
}

// locks reports whether a cause is one from which others follow.
func locks(cause string) bool { return isInterlock(cause) || cause == weld }

// follows reports whether a cause may be the outcome of another on its bench.
func follows(cause string) bool {
	return locks(cause) || cause == flood || cause == fill || strings.HasPrefix(cause, refused)
}

// telling returns the alarm under which a cause is told of: its own, or the one
// from which it follows.
func (l *List) telling(bench, cause string) *Alarm {
	own := l.find(bench, cause)
	if own != nil && own.Active {
		return own
	}
	for i := range l.alarms {
		if a := &l.alarms[i]; a.Bench == bench && a.Active && slices.Contains(a.Also, cause) {
			return a
		}
	}
	return own
}

// rootOf returns the alarm from which a message follows; nil where it stands for
// itself.
func (l *List) rootOf(bench string, m *controller.Message) *Alarm {
	if bench == "" || !follows(m.Cause) {
		return nil
	}
	i := slices.IndexFunc(l.alarms, func(a Alarm) bool {
		heard := m.Urgency != controller.Urgent || a.Urgency == controller.Urgent && !a.silent()
		return a.Active && a.Bench == bench && locks(a.Cause) && a.Cause != m.Cause && heard
	})
	if i < 0 {
		return nil
	}
	return &l.alarms[i]
}

// join takes a message into the alarm from which it follows. What is urgent is
// told at once all the same, and a welded relay gives the alarm its words: it is
// what a hand has to know of first.
func (l *List) join(now safety.Now, a *Alarm, m controller.Message) {
	if m.Cause != a.Cause && !slices.Contains(a.Also, m.Cause) {
		a.Also = append(slices.Clone(a.Also), m.Cause)
	}
	a.remember(now.Wall, m.Text)
	if m.Cause == weld {
		a.say(m)
	} else {
		a.Count++
	}
	if m.Urgency == controller.Urgent {
		a.Unsaid, a.Known, a.KnownTo, a.First, a.SecondTold = true, false, "", 0, false
	}
}

// takeIn has an alarm that arises take in what was told of its flood before it
// was known why.
func (l *List) takeIn(a *Alarm) {
	if !locks(a.Cause) {
		return
	}
	l.alarms = slices.DeleteFunc(l.alarms, func(o Alarm) bool {
		if o.Bench != a.Bench || !o.Active || o.silent() || o.Cause != flood && o.Cause != fill {
			return false
		}
		a.Also = append(slices.Clone(a.Also), o.Cause)
		a.History = append(slices.Clone(o.History), a.History...)
		return true
	})
}
