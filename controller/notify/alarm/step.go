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
func (p *Panel) Step(now safety.Now) []Notice {
	p.wake = safety.Never
	var due []Notice
	for i := range p.alarms {
		a := &p.alarms[i]
		if a.Shelf > 0 && now.Mono >= a.Shelf {
			a.unshelve()
		}
		if a.Shelf > 0 {
			p.wakeAt(now, a.Shelf)
		}
		p.age(now, a)
		if kind, ok := p.due(now, a); ok {
			due = append(due, p.tell(now, a, kind))
		}
	}
	p.alarms = slices.DeleteFunc(p.alarms, func(a Alarm) bool { return a.over() })
	if p.digestDue(now) {
		due = append(due, p.weekly(now))
	}
	return due
}

// Next says when, on the boot-time clock, there may be something to tell.
func (p *Panel) Next() time.Duration { return p.wake }

func (p *Panel) wakeAt(now safety.Now, t time.Duration) {
	if t > now.Mono && t < p.wake {
		p.wake = t
	}
}

// age drops what nobody acknowledged and nothing shows any more.
func (p *Panel) age(now safety.Now, a *Alarm) {
	if a.Active && !a.Passing || a.Known || a.silent() {
		return
	}
	if now.Mono >= a.Since+fade {
		a.Active, a.Known, a.Unsaid = false, true, false
		return
	}
	p.wakeAt(now, a.Since+fade)
}

// due reports whether an alarm has to be told of now, and how.
func (p *Panel) due(now safety.Now, a *Alarm) (Kind, bool) {
	switch {
	case a.silent():
		return "", false
	case a.Unsaid && (a.Urgency == controller.Urgent || p.settled(now, a) && !p.quiet(now)): // also when it is over by now
		return Arose, true
	case a.Goodbye && !p.quiet(now):
		return Gone, true
	case !a.loud() || a.Told == 0:
		return "", false
	}
	next := a.Last + p.rules.Repeat
	if p.rules.SecondAfter > 0 && !a.SecondTold {
		next = min(next, a.First+p.rules.SecondAfter)
	}
	p.wakeAt(now, next)
	return Again, now.Mono >= next
}

// settled reports whether an alarm has stood long enough to be told of, unless it
// is urgent: what turns urgent at once is told of once.
func (p *Panel) settled(now safety.Now, a *Alarm) bool {
	p.wakeAt(now, a.Since+settle)
	return now.Mono >= a.Since+settle
}

// tell makes the notice and notes that it is on its way.
func (p *Panel) tell(now safety.Now, a *Alarm, kind Kind) Notice {
	switch kind {
	case Arose:
		a.Unsaid, a.Goodbye, a.First = false, false, now.Mono
	case Gone:
		a.Goodbye = false
	}
	late := p.rules.SecondAfter > 0 && kind == Again && now.Mono >= a.First+p.rules.SecondAfter
	a.SecondTold = a.SecondTold || late
	if kind != Gone {
		a.Last = now.Mono
		a.Told++
	}
	if a.loud() {
		p.wakeAt(now, a.Last+p.rules.Repeat)
		if p.rules.SecondAfter > 0 && !a.SecondTold {
			p.wakeAt(now, a.First+p.rules.SecondAfter)
		}
	}
	n := Notice{Kind: kind, Alarm: *a, Second: a.SecondTold}
	n.Subject, n.Body = p.subject(&n), p.body(&n)
	return n
}

// quiet reports whether now is in the quiet hours, and asks to be woken when
// they end.
func (p *Panel) quiet(now safety.Now) bool {
	r := &p.rules
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
		p.wakeAt(now, now.Mono+max(time.Second, end.In(r.Zone).Sub(now.Wall)))
	}
	return in
}

// digestDue reports whether the week is over. A clock that is not trusted ends
// no week, and the first trusted look at it only begins one.
func (p *Panel) digestDue(now safety.Now) bool {
	if !now.Trusted {
		return false
	}
	if p.digest.IsZero() || p.digest.After(now.Wall) {
		p.digest = now.Wall
	}
	next := p.digestAfter(p.digest)
	if now.Wall.Before(next) {
		p.wakeAt(now, now.Mono+next.Sub(now.Wall))
		return false
	}
	return true
}

func (p *Panel) digestAfter(t time.Time) time.Time {
	d := schedule.CivilIn(t, p.rules.Zone).Date()
	for {
		if d.Weekday() == p.rules.DigestDay {
			if at := d.At(p.rules.DigestAt).In(p.rules.Zone); at.After(t) {
				return at
			}
		}
		d = d.AddDays(1)
	}
}

// weekly makes the digest and begins a new week.
func (p *Panel) weekly(now safety.Now) Notice {
	n := Notice{Kind: Digest, Alarm: Alarm{ID: p.nextID, Cause: "digest", Urgency: controller.ThisWeek, At: now.Wall}}
	p.nextID++
	n.Subject, n.Body = p.subject(&n), p.summary(now)
	p.digest, p.week = now.Wall, Week{Floods: map[controller.Outcome]int{}}
	p.wakeAt(now, now.Mono+p.digestAfter(now.Wall).Sub(now.Wall))
	return n
}

// Tested makes a test notice, whose answer is the code. It goes to everybody.
func (p *Panel) Tested(now safety.Now, code string) Notice {
	n := Notice{Kind: Test, Second: true, Alarm: Alarm{ID: p.nextID, Cause: "test", Urgency: controller.Today, At: now.Wall}}
	p.nextID++
	n.Subject, n.Body = p.subject(&n), p.question(code)
	return n
}
