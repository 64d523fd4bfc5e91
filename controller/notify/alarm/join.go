package alarm

import (
	"cmp"
	"slices"

	"benchtide/safety"
)

// Join adds a state that could not be read when the list of alarms was begun:
// the alarms that it lacks, and what people had said of those that it has. The
// numbers of its own alarms stay; one from before gets a new number only where
// its own is taken by now.
func (l *List) Join(s Saved, now safety.Now, boot string) {
	before := Resume(l.rules, l.names, s, now, boot)
	l.nextID = max(l.nextID, before.nextID)
	taken := map[int64]bool{}
	for i := range l.alarms {
		a := &l.alarms[i]
		taken[a.ID] = true
		if b := before.find(a.Bench, a.Cause); b != nil {
			a.follow(b)
		}
	}
	for _, b := range before.alarms {
		if l.find(b.Bench, b.Cause) != nil {
			continue
		}
		if taken[b.ID] {
			b.ID = l.nextID
			l.nextID++
		}
		l.alarms = append(l.alarms, b)
	}
	slices.SortFunc(l.alarms, func(a, b Alarm) int { return cmp.Compare(a.ID, b.ID) })
	l.bound()
	l.joinWeek(before)
}

// follow takes over what a person said of the same cause, and how long it has
// stood.
func (a *Alarm) follow(b *Alarm) {
	if a.Shelf == 0 && !a.Out {
		a.Shelf, a.ShelvedBy, a.Out, a.OutBy = b.Shelf, b.ShelvedBy, b.Out, b.OutBy
	}
	if !a.Active || !b.Active { // another occurrence
		return
	}
	if rank(b.Urgency) <= rank(a.Urgency) && b.Known && !a.Known {
		a.Known, a.KnownTo, a.Unsaid = true, b.KnownTo, false
	}
	a.Count += b.Count
	a.Told += b.Told
	a.At, a.Since = b.At, min(a.Since, b.Since)
	if b.Told > 0 {
		a.First, a.SecondTold = min(a.First, b.First), a.SecondTold || b.SecondTold
	}
}

func (l *List) joinWeek(before *List) {
	for outcome, n := range before.week.Floods {
		l.week.Floods[outcome] += n
	}
	l.week.Notes = append(slices.Clone(before.week.Notes), l.week.Notes...)
	if over := len(l.week.Notes) - mostNotes; over > 0 {
		l.week.Notes = l.week.Notes[over:]
	}
	if l.digest.IsZero() || before.digest.Before(l.digest) && !before.digest.IsZero() {
		l.digest = before.digest
	}
}
