package alarm

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/safety"
	"benchtide/schedule"
)

// Rules say when people are told.
type Rules struct {
	Zone        *time.Location
	Repeat      time.Duration // of what is urgent, until it is acknowledged
	SecondAfter time.Duration // when the second person is told of it as well; 0 without one
	Quiet       bool          // there are quiet hours
	QuietFrom   schedule.TimeOfDay
	QuietTo     schedule.TimeOfDay
	DigestDay   time.Weekday
	DigestAt    schedule.TimeOfDay
}

// DefaultRepeat is how often what is urgent is told again unless a file says
// otherwise.
const DefaultRepeat = 15 * time.Minute

// Bounds.
const (
	settle      = time.Minute
	again       = 24 * time.Hour     // news of a cause that is known of for today is sent no sooner
	fade        = 7 * 24 * time.Hour // what nobody acknowledges and nothing shows any more
	mostShelved = 7 * 24 * time.Hour
	nowShelved  = 24 * time.Hour // of what is urgent
	mostAlarms  = 5000           // more than a large site can have causes
	mostNotes   = 200
)

// List holds the alarms of a site. It is not safe for concurrent use.
type List struct {
	rules  Rules
	names  controller.Names
	alarms []Alarm // in order of their ids
	nextID int64
	week   Week
	digest time.Time // when the last one was due; zero before the first trusted look at the clock
	wake   time.Duration
}

// Week counts what the digest tells of.
type Week struct {
	Floods map[controller.Outcome]int `json:"floods"`
	Notes  []string                   `json:"notes"`
}

// New returns a list without alarms.
func New(r Rules, n controller.Names) *List {
	return &List{rules: r, names: n, nextID: 1, week: Week{Floods: map[controller.Outcome]int{}}}
}

func (l *List) bench(i int) string {
	if i < 0 || i >= len(l.names.Benches) {
		return ""
	}
	return l.names.Benches[i]
}

func (l *List) find(bench, cause string) *Alarm {
	i := slices.IndexFunc(l.alarms, func(a Alarm) bool { return a.Bench == bench && a.Cause == cause })
	if i < 0 {
		return nil
	}
	return &l.alarms[i]
}

// Raise takes a message of the controller.
func (l *List) Raise(now safety.Now, m controller.Message) {
	bench := l.bench(m.Bench)
	a := l.find(bench, m.Cause)
	switch {
	case m.Gone:
		if a != nil {
			l.leave(a, m.Text)
		}
		if m.Urgency == controller.ThisWeek {
			l.note(now, m.Text)
		}
	case m.Urgency == controller.ThisWeek:
		l.note(now, m.Text)
	case a == nil || !a.Active:
		if root := l.rootOf(bench, &m); root != nil {
			l.join(now, root, m)
			return
		}
		l.arise(now, a, bench, m)
	default:
		l.news(now, a, m)
	}
}

// note keeps a line for the digest; the oldest give way.
func (l *List) note(now safety.Now, text string) {
	if len(l.week.Notes) >= mostNotes {
		l.week.Notes = l.week.Notes[1:]
	}
	line := text
	if now.Trusted {
		line = now.Wall.In(l.rules.Zone).Format("Mon 2 Jan 15:04: ") + text
	}
	l.week.Notes = append(l.week.Notes, line)
}

// arise begins an occurrence. What a person said of the one before about shelf
// and service stays, and while nobody has acknowledged that one it is the same
// alarm, which comes and goes.
func (l *List) arise(now safety.Now, before *Alarm, bench string, m controller.Message) {
	a := Alarm{ID: l.nextID, Bench: bench, Cause: m.Cause, At: now.Wall, Since: now.Mono, Active: true, Passing: !returns(m.Cause)}
	l.nextID++
	if before != nil {
		a.Shelf, a.ShelvedBy, a.Out, a.OutBy = before.Shelf, before.ShelvedBy, before.Out, before.OutBy
		if !before.Known {
			a.At, a.Count, a.Also, a.History = before.At, before.Count, before.Also, before.History
		}
		id := before.ID
		l.alarms = slices.DeleteFunc(l.alarms, func(o Alarm) bool { return o.ID == id })
	}
	a.say(m)
	a.Unsaid = true
	l.takeIn(&a)
	a.remember(now.Wall, m.Text)
	l.alarms = append(l.alarms, a)
	l.bound()
}

// say takes the words of a message.
func (a *Alarm) say(m controller.Message) {
	a.Urgency, a.Text, a.Parts, a.By = m.Urgency, m.Text, m.Parts, m.By
	a.Count++
}

// news adds a message to an alarm that stands. What is urgent is told at once
// and has to be acknowledged anew; what was known of for today, once a day.
func (l *List) news(now safety.Now, a *Alarm, m controller.Message) {
	a.remember(now.Wall, m.Text)
	if rank(m.Urgency) > rank(a.Urgency) { // it has been told of with more weight
		a.Count++
		return
	}
	fresh := m.Urgency == controller.Urgent || a.Told > 0 && now.Mono >= a.Last+again
	a.Passing = !returns(m.Cause)
	a.say(m)
	if fresh {
		a.Unsaid, a.Known, a.KnownTo, a.First, a.SecondTold = true, false, "", 0, false
	}
}

// leave notes that the cause is gone. Only who was told of something urgent
// hears of that.
func (l *List) leave(a *Alarm, text string) {
	if !a.Active {
		return
	}
	a.Active = false
	if a.Urgency == controller.Urgent {
		a.Goodbye = a.Told > 0 && !a.silent()
		if text != "" && !a.Unsaid {
			a.Text, a.Parts = text, controller.Parts{Happened: text}
		}
		return
	}
	if a.Told == 0 { // it came and went in the quiet hours: the digest is enough
		l.week.Notes = append(l.week.Notes, a.Text)
	}
	a.Unsaid, a.Known = false, true // nothing is left to do about it
}

// bound drops the oldest alarms that nobody needs any more.
func (l *List) bound() {
	for len(l.alarms) > mostAlarms {
		i := slices.IndexFunc(l.alarms, func(a Alarm) bool { return a.Urgency != controller.Urgent || !a.Active })
		l.alarms = slices.Delete(l.alarms, max(i, 0), max(i, 0)+1)
	}
}

// Flooded counts a flood that ended. One that did its work is the end of what
// was told of those before.
func (l *List) Flooded(f *controller.Flood) {
	if f.StoodFor() {
		return
	}
	l.week.Floods[f.Outcome]++
	if f.Outcome != controller.Proven {
		return
	}
	for i := range l.alarms {
		if a := &l.alarms[i]; a.Bench == l.bench(f.Bench) && a.Active && endsWithAFlood(a) {
			l.leave(a, "")
		}
	}
}

// Alarms lists what is not over, oldest first.
func (l *List) Alarms() []Alarm { return slices.Clone(l.alarms) }

func (l *List) byID(id int64) (*Alarm, error) {
	i := slices.IndexFunc(l.alarms, func(a Alarm) bool { return a.ID == id })
	if i < 0 {
		return nil, fmt.Errorf("alarm %d: there is none of this number; it may be over", id)
	}
	return &l.alarms[i], nil
}

// Acknowledge notes that a person knows of an alarm, or of all for the id 0.
// It is silent from now on; nothing is reset.
func (l *List) Acknowledge(id int64, by string) error {
	if id == 0 {
		for i := range l.alarms {
			l.alarms[i].acknowledge(by)
		}
		return nil
	}
	a, err := l.byID(id)
	if err == nil {
		a.acknowledge(by)
	}
	return err
}

func (a *Alarm) acknowledge(by string) {
	if a.Known || a.silent() {
		return
	}
	a.Known, a.KnownTo, a.Unsaid = true, by, false
}

// Shelve keeps an alarm silent for a time; one that still stands then is told
// anew. A time of 0 takes it from the shelf.
func (l *List) Shelve(now safety.Now, id int64, d time.Duration, by string) error {
	a, err := l.byID(id)
	if err != nil {
		return err
	}
	most := mostShelved
	if a.Urgency == controller.Urgent {
		most = nowShelved
	}
	switch {
	case d == 0:
		a.unshelve()
		return nil
	case d < 0 || d > most:
		return fmt.Errorf("shelve alarm %d for %s: one that is for %q can be shelved for up to %s; take a shorter time", id, quantity.Duration(d), a.Urgency, quantity.Duration(most))
	case a.Out:
		return fmt.Errorf("shelve alarm %d: it is out of service; put it into service first", id)
	}
	a.Shelf, a.ShelvedBy = now.Mono+d, by
	return nil
}

func (a *Alarm) unshelve() {
	if a.Shelf == 0 {
		return
	}
	a.Shelf, a.ShelvedBy = 0, ""
	a.wakeUp()
}

// wakeUp has an alarm that was kept silent told anew where it still stands.
func (a *Alarm) wakeUp() {
	a.Known, a.KnownTo, a.First, a.SecondTold = !a.Active, "", 0, false
	a.Unsaid = a.Active
}

// Service takes an alarm out of service, while somebody works on what causes
// it, or puts it back. It stays out until then, and every digest says so.
func (l *List) Service(id int64, out bool, by string) error {
	a, err := l.byID(id)
	switch {
	case err != nil:
		return err
	case out && strings.TrimSpace(by) == "":
		return fmt.Errorf("take alarm %d out of service: say who does", id)
	case out:
		a.Out, a.OutBy, a.Shelf, a.ShelvedBy = true, by, 0, ""
	case a.Out:
		a.Out, a.OutBy = false, ""
		a.wakeUp()
	}
	return nil
}

// Signals says what the lamp and the buzzer on the box do: the lamp is on
// while something urgent stands or was not acknowledged, the buzzer while
// something urgent stands that nobody acknowledged.
func (l *List) Signals() (lamp, buzzer bool) {
	for i := range l.alarms {
		a := &l.alarms[i]
		if a.Urgency == controller.Urgent && !a.silent() {
			lamp = lamp || a.Active || !a.Known
			buzzer = buzzer || a.Active && !a.Known
		}
	}
	return lamp, buzzer
}
