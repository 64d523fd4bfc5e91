package alarm

import (
	"cmp"
	"slices"

	"benchtide/safety"
)

// Join adds a state that could not be read when the panel was begun: the alarms
// that it lacks, and what people had said of those that it has. The numbers of
// its own alarms stay; one from before gets a new number only where its own is
// taken by now.
func (p *Panel) Join(s Saved, now safety.Now, boot string) {
	before := Resume(p.rules, p.names, s, now, boot)
	p.nextID = max(p.nextID, before.nextID)
	taken := map[int64]bool{}
	for i := range p.alarms {
		a := &p.alarms[i]
		taken[a.ID] = true
		if b := before.find(a.Bench, a.Cause); b != nil {
			a.follow(b)
		}
	}
	for _, b := range before.alarms {
		if p.find(b.Bench, b.Cause) != nil {
			continue
		}
		if taken[b.ID] {
			b.ID = p.nextID
			p.nextID++
		}
		p.alarms = append(p.alarms, b)
	}
	slices.SortFunc(p.alarms, func(a, b Alarm) int { return cmp.Compare(a.ID, b.ID) })
	p.bound()
	p.joinWeek(before)
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

func (p *Panel) joinWeek(before *Panel) {
	for outcome, n := range before.week.Floods {
		p.week.Floods[outcome] += n
	}
	p.week.Notes = append(slices.Clone(before.week.Notes), p.week.Notes...)
	if over := len(p.week.Notes) - mostNotes; over > 0 {
		p.week.Notes = p.week.Notes[over:]
	}
	if p.digest.IsZero() || before.digest.Before(p.digest) && !before.digest.IsZero() {
		p.digest = before.digest
	}
}
