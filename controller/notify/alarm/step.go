package alarm

import (
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/safety"
	"benchtide/schedule"
)

// Kind says what a notice is.
type Kind string

// The kinds of notices.
const (
	Arose  Kind = "arose"
	Again  Kind = "again"  // nobody has acknowledged it
	Gone   Kind = "gone"   // the cause is no more
	Digest Kind = "digest" // of the week
	Test   Kind = "test"   // wants an answer
)

// Notice is what people are to be told.
type Notice struct {
	Kind    Kind
	Alarm   Alarm // of a digest and a test, what they have instead
	Second  bool  // the second person is told as well
	Subject string
	Body    string
}

// Step returns what has to be told now.
func (l *List) Step(now safety.Now) []Notice {
	l.wake = safety.Never
	var due []Notice
	for i := range l.alarms {
		a := &l.alarms[i]
		if a.Shelf > 0 && now.Mono >= a.Shelf {
			a.unshelve()
		}
		if a.Shelf > 0 {
			l.wakeAt(now, a.Shelf)
		}
		l.age(now, a)
		if kind, ok := l.due(now, a); ok {
			due = append(due, l.tell(now, a, kind))
		}
	}
	l.alarms = slices.DeleteFunc(l.alarms, func(a Alarm) bool { return a.over() })
	if l.digestDue(now) {
		due = append(due, l.weekly(now))
	}
	return due
}

// Next says when, on the boot-time clock, there may be something to tell.
func (l *List) Next() time.Duration { return l.wake }

func (l *List) wakeAt(now safety.Now, t time.Duration) {
	if t > now.Mono && t < l.wake {
		l.wake = t
	}
}

// age drops what nobody acknowledged and nothing shows any more.
func (l *List) age(now safety.Now, a *Alarm) {
	if a.Active && !a.Passing || a.Known || a.silent() {
		return
	}
	if now.Mono >= a.Since+fade {
		a.Active, a.Known, a.Unsaid = false, true, false
		return
	}
	l.wakeAt(now, a.Since+fade)
}

// due reports whether an alarm has to be told of now, and how.
func (l *List) due(now safety.Now, a *Alarm) (Kind, bool) {
	switch {
	case a.silent():
		return "", false
	case a.Unsaid && (a.Urgency == controller.Urgent || l.settled(now, a) && !l.quiet(now)): // also when it is over by now
		return Arose, true
	case a.Goodbye && !l.quiet(now):
		return Gone, true
	case !a.loud() || a.Told == 0:
		return "", false
	}
	next := a.Last + l.rules.Repeat
	if l.rules.SecondAfter > 0 && !a.SecondTold {
		next = min(next, a.First+l.rules.SecondAfter)
	}
	l.wakeAt(now, next)
	return Again, now.Mono >= next
}

// settled reports whether an alarm has stood long enough to be told of, unless it
// is urgent: what turns urgent at once is told of once.
func (l *List) settled(now safety.Now, a *Alarm) bool {
	l.wakeAt(now, a.Since+settle)
	return now.Mono >= a.Since+settle
}

// tell makes the notice and notes that it is on its way.
func (l *List) tell(now safety.Now, a *Alarm, kind Kind) Notice {
	switch kind {
	case Arose:
		a.Unsaid, a.Goodbye, a.First = false, false, now.Mono
	case Gone:
		a.Goodbye = false
	}
	late := l.rules.SecondAfter > 0 && kind == Again && now.Mono >= a.First+l.rules.SecondAfter
	a.SecondTold = a.SecondTold || late
	if kind != Gone {
		a.Last = now.Mono
		a.Told++
	}
	if a.loud() {
		l.wakeAt(now, a.Last+l.rules.Repeat)
		if l.rules.SecondAfter > 0 && !a.SecondTold {
			l.wakeAt(now, a.First+l.rules.SecondAfter)
		}
	}
	n := Notice{Kind: kind, Alarm: *a, Second: a.SecondTold}
	n.Subject, n.Body = l.subject(&n), l.body(&n)
	return n
}

// quiet reports whether now is in the quiet hours, and asks to be woken when
// they end.
func (l *List) quiet(now safety.Now) bool {
	r := &l.rules
	if !r.Quiet || !now.Trusted || r.QuietFrom == r.QuietTo {
		return false
	}
	here := schedule.CivilIn(now.Wall, r.Zone)
	t := here.TimeOfDay()
	in := t >= r.QuietFrom && t < r.QuietTo
	if r.QuietTo < r.QuietFrom {
		in = t >= r.QuietFrom || t < r.QuietTo
	}
	if in {
		end := here.Date().At(r.QuietTo)
		if end <= here {
			end = here.Date().AddDays(1).At(r.QuietTo)
		}
		l.wakeAt(now, now.Mono+max(time.Second, end.In(r.Zone).Sub(now.Wall)))
	}
	return in
}

// digestDue reports whether the week is over. A clock that is not trusted ends
// no week, and the first trusted look at it only begins one.
func (l *List) digestDue(now safety.Now) bool {
	if !now.Trusted {
		return false
	}
	if l.digest.IsZero() || l.digest.After(now.Wall) {
		l.digest = now.Wall
	}
	next := l.digestAfter(l.digest)
	if now.Wall.Before(next) {
		l.wakeAt(now, now.Mono+next.Sub(now.Wall))
		return false
	}
	return true
}

func (l *List) digestAfter(t time.Time) time.Time {
	d := schedule.CivilIn(t, l.rules.Zone).Date()
	for {
		if d.Weekday() == l.rules.DigestDay {
			if at := d.At(l.rules.DigestAt).In(l.rules.Zone); at.After(t) {
				return at
			}
		}
		d = d.AddDays(1)
	}
}

// weekly makes the digest and begins a new week.
func (l *List) weekly(now safety.Now) Notice {
	n := Notice{Kind: Digest, Alarm: Alarm{ID: l.nextID, Cause: "digest", Urgency: controller.ThisWeek, At: now.Wall}}
	l.nextID++
	n.Subject, n.Body = l.subject(&n), l.summary(now)
	l.digest, l.week = now.Wall, Week{Floods: map[controller.Outcome]int{}}
	l.wakeAt(now, now.Mono+l.digestAfter(now.Wall).Sub(now.Wall))
	return n
}

// Tested makes a test notice, whose answer is the code. It goes to everybody.
func (l *List) Tested(now safety.Now, code string) Notice {
	n := Notice{Kind: Test, Second: true, Alarm: Alarm{ID: l.nextID, Cause: "test", Urgency: controller.Today, At: now.Wall}}
	l.nextID++
	n.Subject, n.Body = l.subject(&n), l.question(code)
	return n
}
