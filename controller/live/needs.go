package live

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

// wearsThin is the crop clock from which a batch without a flood in time is to
// be looked after.
const wearsThin = 0.8

// rank orders urgencies, the most urgent first.
func rank(urgency string) int { return slices.Index([]string{atOnce, byToday, noNeed}, urgency) }

// causes says all that is to be said of a snapshot, each thing once, the most
// urgent first.
func (s *Status) causes() []Need {
	all := []Need{}
	s.called = s.Titles()
	add := func(n Need) { all = append(all, n) }
	for i := range s.Benches {
		s.Benches[i].locked(s, add)
	}
	for i := range s.Batches {
		s.thirst(&s.Batches[i], add)
	}
	for i := range s.Benches {
		s.Benches[i].held(s, add)
		s.Benches[i].failed(s, add)
	}
	for i := range s.Reservoirs {
		s.Reservoirs[i].needs(s, add)
	}
	s.ofTheSite(add)
	s.Commissioning.needs(s, add)
	slices.SortStableFunc(all, func(a, b Need) int { return cmp.Compare(rank(a.Urgency), rank(b.Urgency)) })
	return all
}

func (s *Status) ofTheSite(add func(Need)) {
	if s.HandsIn {
		add(kindOf(string(safety.HandsIn), "", false).need(string(safety.HandsIn), "", "Hands in: a person works in the benches.", "Nothing starts.", ""))
	}
	if !s.ClockTrusted {
		add(kinds[untrusted].need(untrusted, "", "The clock is not trusted.", "Floods follow elapsed time, not the calendar.", ""))
	}
	if t := s.Record.Trouble; t != nil {
		add(kinds[noStorage].need(noStorage, "", "Storage takes no writes ("+*t+").", "Floods go on; what happens is kept in memory alone until it does.", ""))
	}
	for _, b := range s.Left {
		if len(b.Latched) > 0 {
			t := &b.Latched[0]
			add(kinds[left].need(left, "", s.called.Bench(b.Name)+" left the file locked: "+t.Said(s.called, b.Name)+".", "", "Put it back, or say what became of it: benchtide drop "+b.Name+"."))
		}
	}
}

// locked is the one thing that keeps a bench locked until it is reset: the first
// cause, or the weld that it turned out to be.
func (b *BenchStatus) locked(s *Status, add func(Need)) {
	if len(b.Latched) == 0 && !b.Weld || s.rootOf(b) != nil {
		return
	}
	cause, happened := weld, s.called.Bench(b.Name)+": a pump relay is welded, so its pump runs whenever it has power."
	var first LatchedTrip
	if len(b.Latched) > 0 {
		first = b.Latched[0]
	}
	if !b.Weld && first.Words != controller.Welded.Words {
		cause, happened = first.Interlock, s.called.Bench(b.Name)+": "+first.Said(s.called, b.Name)+"."
	}
	names := []string{s.called.Bench(b.Name)}
	for i := range s.Benches {
		if o := &s.Benches[i]; s.rootOf(o) == b {
			names = append(names, s.called.Bench(o.Name))
		}
	}
	done := "The pump is off and stays off until you reset it."
	switch {
	case cause == weld:
		done = "The enable relay keeps its power off, and nothing floods on " + list(names) + " before a reset."
	case len(names) > 1:
		done = "The pumps of " + list(names) + " stay off until you reset them."
	}
	n := kindOf(cause, first.Detail, true).need(cause, b.Name, happened, done, s.reset(names, b.Name))
	for _, t := range b.Latched[min(1, len(b.Latched)):] {
		n.Then = append(n.Then, clockOf(t.At, s.At)+": "+t.Said(s.called, b.Name)+".")
	}
	if first.At != "" {
		n.Since = &first.At
	}
	add(n)
}

// reset is the end of what is to be done about a locked bench, and until when the
// plants can wait for it.
func (s *Status) reset(names []string, bench string) string {
	text := "Then reset " + list(names)
	var by time.Time
	for i := range s.Batches {
		k := &s.Batches[i]
		if k.Bench != bench || k.LimitS <= 0 {
			continue
		}
		if at := controller.Instant(s.At).Add(time.Duration((k.LimitS - k.SinceS) * float64(time.Second))); by.IsZero() || at.Before(by) {
			by = at
		}
	}
	switch {
	case by.IsZero():
		return text + "."
	case by.Before(controller.Instant(s.At)):
		return text + "; the plants have waited too long already."
	}
	return text + "; the plants can wait until " + clockOf(controller.Stamp(by, controller.Instant(s.At).Location()), s.At) + "."
}

var namesBench = regexp.MustCompile(`bench "([^"]*)"`)

// rootOf is the other bench whose cause keeps a bench from flooding, as its first
// trip or its refusal names it; nil where it has a cause of its own.
func (s *Status) rootOf(b *BenchStatus) *BenchStatus {
	detail := ""
	switch {
	case b.Weld:
	case len(b.Latched) > 0:
		detail = b.Latched[0].Detail
		if b.Latched[0].Interlock == string(safety.RestartStorm) { // one for all
			detail = ""
			for i := range s.Benches {
				o := &s.Benches[i]
				if o == b {
					break
				}
				if len(o.Latched) > 0 && o.Latched[0].Interlock == b.Latched[0].Interlock {
					return o
				}
			}
		}
	case b.Refusal != nil:
		detail = b.Refusal.Detail
	}
	for _, m := range namesBench.FindAllStringSubmatch(detail, -1) {
		if m[1] == b.Name {
			return nil
		}
		for i := range s.Benches {
			if o := &s.Benches[i]; o.Name == m[1] && (len(o.Latched) > 0 || o.Weld) {
				return o
			}
		}
	}
	return nil
}

// held says what keeps a bench at rest from flooding.
func (b *BenchStatus) held(s *Status, add func(Need)) {
	state := func(cause, happened string) {
		add(kinds[cause].need(cause, b.Name, s.called.Bench(b.Name)+happened, "", ""))
	}
	if b.PausedUntil != nil {
		by := ""
		if b.PausedBy != "" {
			by = " by " + b.PausedBy
		}
		state(string(controller.Paused), " is paused until "+clockOf(*b.PausedUntil, s.At)+by+".")
	}
	if b.Sanitising != nil {
		state(string(controller.Sanitising), " is being sanitised, and nothing floods by itself.")
	}
	if len(b.Skipped) > 0 {
		state(skippedOne, " leaves out its flood of "+clockOf(b.Skipped[0].Due, s.At)+".")
	}
	r := b.Refusal
	if r == nil || r.Latched || len(b.Latched) > 0 || b.Flood != nil || r.Interlock == string(safety.HandsIn) || r.Interlock == string(controller.Attended) {
		return
	}
	switch {
	case strings.HasPrefix(r.Detail, "the water of bench "):
		state(neighbour, " waits: "+controller.Plainly(s.called, r.Detail, b.Name)+".")
	case r.Until != nil, r.Interlock == string(safety.MinRest):
		if k, ok := kinds[r.Interlock]; ok {
			add(k.need(r.Interlock, b.Name, s.called.Bench(b.Name)+": "+r.Said(s.called, b.Name)+".", "", ""))
		}
	case s.rootOf(b) == nil:
		if names := s.refusedAlike(b); names != nil {
			add(kindOf(r.Interlock, r.Detail, false).need(r.Interlock, b.Name, list(names)+": "+r.Said(s.called, b.Name)+".", "No flood starts meanwhile.", ""))
		}
	}
}

var tooLow = regexp.MustCompile(`^reservoir "[^"]*" is too low`)

// refusedAlike names the benches that the same cause keeps from flooding, such as
// one reservoir that is too low; none for all but the first of them.
func (s *Status) refusedAlike(b *BenchStatus) (names []string) {
	cause := tooLow.FindString(b.Refusal.Detail)
	if cause == "" {
		return []string{s.called.Bench(b.Name)}
	}
	for i := range s.Benches {
		o := &s.Benches[i]
		if o.Refusal == nil || len(o.Latched) > 0 || tooLow.FindString(o.Refusal.Detail) != cause {
			continue
		}
		if len(names) == 0 && o != b {
			return nil
		}
		names = append(names, s.called.Bench(o.Name))
	}
	return names
}

// failed tells of a last flood that did not do its work, unless something else
// that is told of keeps the bench.
func (b *BenchStatus) failed(s *Status, add func(Need)) {
	l := b.Last
	if l == nil || b.Flood != nil || len(b.Latched) > 0 || b.Weld || !failed(l) {
		return
	}
	k := kinds[lastFlood]
	name, _, _ := strings.Cut(l.Reason, ": ")
	if w := controller.WordingOf(safety.Interlock(name), l.Reason); w.Do != "" {
		k.do, k.mains = w.Do, w.Mains
	}
	add(k.need(lastFlood, b.Name, s.called.Bench(b.Name)+": the last flood "+Ended(s.called, l)+".", "", ""))
}

// failed reports whether a flood did not wet the plants as planned, and nobody
// wanted it so.
func failed(f *controller.Row) bool {
	switch f.Outcome {
	case controller.Short, controller.Unproven, controller.Missed:
		return true
	case controller.Interrupted:
		return f.Cause != controller.ByHand
	}
	return false
}

// needs asks for a look at a leak while nobody has said where its water went.
func (r *ReservoirStatus) needs(s *Status, add func(Need)) {
	u := r.Missing
	if u == nil || u.Answer != "" || controller.Instant(s.At).Sub(controller.Instant(u.At)) > remembered {
		return
	}
	what, bench, look := s.called.Reservoir(r.Name), "", "at the reservoir and its fittings"
	if u.Bench != nil {
		what, bench, look = s.called.Bench(*u.Bench), *u.Bench, "under the table and at the hose"
	}
	add(kinds[missing].need(missing, bench, fmt.Sprintf("%s: about %s more than the plants can have drunk are missing since %s.", what, s.Units.Weighed(quantity.Litres(u.Litres)), clockOf(u.From, s.At)),
		"", "Look for water "+look+". If you took it out, say so."))
}

// remembered is how long lost water that nobody explains asks for a look: then
// later weighings have told whether it goes on.
const remembered = 7 * 24 * time.Hour

func (c *CommissioningStatus) needs(s *Status, add func(Need)) {
	if !c.Unattended && c.Why != "" {
		add(kinds[unchecked].need(unchecked, "", "No flood starts by itself ("+c.Why+").", "", ""))
	}
	for _, t := range c.ProofTests {
		if t.Overdue {
			add(kinds[proofTest].need(proofTest, t.Bench, s.called.Bench(t.Bench)+": the proof test of its switches is overdue.", "Holds may be shorter until it is done.", ""))
		}
	}
}

func (s *Status) thirst(b *BatchStatus, add func(Need)) {
	left := time.Duration((b.LimitS - b.SinceS) * float64(time.Second))
	happened := s.called.Batch(b.Name) + " on " + s.called.Bench(b.Bench) + " " + b.waited()
	switch {
	case b.LimitS <= 0:
	case b.Ratio >= 1:
		add(kinds[cropOver].need(cropOver, b.Bench, happened+".", "", ""))
	case b.Ratio >= wearsThin && !s.floodsWithin(b.Bench, left):
		add(kinds[cropLate].need(cropLate, b.Bench, happened+", and no flood is planned in time.", "", ""))
	}
}

// waited says how long a batch has been without water, and what it can stand.
func (b *BatchStatus) waited() string {
	since := "was last watered " + lasting(b.SinceS) + " ago"
	if b.NoFlood {
		since = "has no flood on record, counted from " + lasting(b.SinceS) + " ago,"
	}
	if b.LimitBy == "pots" {
		return since + " and its pots last " + lasting(b.LimitS) + " in hot weather"
	}
	return since + " and can wait " + lasting(b.LimitS)
}

// floodsWithin reports whether a bench floods, or is to flood in that time.
func (s *Status) floodsWithin(bench string, left time.Duration) bool {
	for i := range s.Benches {
		b := &s.Benches[i]
		if b.Name != bench {
			continue
		}
		return b.Flood != nil || b.Next != nil && b.PausedUntil == nil && b.Sanitising == nil && len(b.Latched) == 0 && controller.Instant(b.Next.Due).Sub(controller.Instant(s.At)) < left
	}
	return false
}

// Attend adds what a person is needed for to a snapshot, and what else is so.
func (s *Status) Attend() {
	s.Needs, s.States, s.NeedsYou = []Need{}, []Need{}, noNeed
	for _, n := range s.causes() {
		if n.Urgency == noNeed {
			s.States = append(s.States, n)
		} else {
			s.Needs = append(s.Needs, n)
		}
	}
	if len(s.Needs) > 0 {
		s.NeedsYou = s.Needs[0].Urgency
	}
}

// clockOf is a stamp as people say it, as seen from now.
func clockOf(stamp, now string) string {
	at, here := controller.Instant(stamp), controller.Instant(now)
	switch days := at.Sub(here).Abs(); {
	case at.Format(time.DateOnly) == here.Format(time.DateOnly):
		return at.Format("15:04")
	case days < 6*24*time.Hour:
		return at.Format("Mon 15:04")
	}
	return at.Format("Mon 2 Jan 15:04")
}

func lasting(seconds float64) string {
	return controller.Lasting(time.Duration(seconds * float64(time.Second)))
}

// list joins names as a sentence does.
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}
