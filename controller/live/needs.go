package live

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// Need is one reason for a person to do something.
type Need struct {
	Urgency string `json:"urgency"` // now or today
	Bench   string `json:"bench"`   // empty for the site
	Text    string `json:"text"`    // why, and what to do
}

// Urgencies of what a person is needed for.
const (
	noNeed  = "no"
	byToday = "today"
	atOnce  = "now"
)

// wearsThin is the crop clock from which a batch without a flood in time is to
// be looked after.
const wearsThin = 0.8

// rank orders urgencies, the most urgent first.
func rank(urgency string) int { return slices.Index([]string{atOnce, byToday, noNeed}, urgency) }

// needs says what a person is needed for, the most urgent first.
func (s *Status) needs() []Need {
	all := []Need{}
	add := func(urgency, bench, format string, args ...any) {
		all = append(all, Need{urgency, bench, fmt.Sprintf(format, args...)})
	}
	for i := range s.Benches {
		s.Benches[i].needs(add)
	}
	for _, b := range s.Batches {
		s.thirst(&b, add)
	}
	for i := range s.Reservoirs {
		s.Reservoirs[i].needs(add, s.At)
	}
	if s.HandsIn {
		add(byToday, "", "Hands-in is on: nothing starts. End it when nobody works in the benches.")
	}
	if !s.ClockTrusted {
		add(byToday, "", "The clock is not trusted: floods follow elapsed time, not the calendar. See that the machine reaches a time server, or fit a clock chip.")
	}
	if t := s.Record.Trouble; t != nil {
		add(byToday, "", "Storage takes no writes: %s. Floods go on; what happens is kept in memory alone until it does.", *t)
	}
	for _, b := range s.Left {
		if len(b.Latched) > 0 {
			add(byToday, "", "%s left the file locked (%s). Put it back, or say what became of it: benchtide drop %s.", b.Name, controller.Called(safety.Interlock(b.Latched[0].Interlock)), b.Name)
		}
	}
	s.Commissioning.needs(add)
	slices.SortStableFunc(all, func(a, b Need) int { return cmp.Compare(rank(a.Urgency), rank(b.Urgency)) })
	return all
}

// needs asks for a look at a leak while nobody has said where its water went.
func (r *ReservoirStatus) needs(add func(urgency, bench, format string, args ...any), now string) {
	u := r.Missing
	if u == nil || u.Answer != "" || controller.Instant(now).Sub(controller.Instant(u.At)) > remembered {
		return
	}
	what, look := r.Name, "the reservoir and its fittings"
	if u.Bench != nil {
		what, look = *u.Bench, "under the table and at the hose"
	}
	add(byToday, orNone(u.Bench), "%s: about %.0f L more than the plants can have drunk are missing since %s. Look for water %s. If you took it out, say so.",
		what, u.Litres, controller.Instant(u.From).Format("Mon 2 Jan 15:04"), look)
}

// remembered is how long lost water that nobody explains asks for a look: then
// later weighings have told whether it goes on.
const remembered = 7 * 24 * time.Hour

func orNone(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

func (c *CommissioningStatus) needs(add func(urgency, bench, format string, args ...any)) {
	if !c.Unattended && c.Why != "" {
		add(byToday, "", "No flood starts by itself: %s.", c.Why)
	}
	for _, t := range c.ProofTests {
		if t.Overdue {
			add(byToday, t.Bench, "%s: the proof test of its switches is overdue, and holds may be shorter until it is done beside the bench.", t.Bench)
		}
	}
}

func (b *BenchStatus) needs(add func(urgency, bench, format string, args ...any)) {
	for _, t := range b.Latched {
		add(atOnce, b.Name, "%s: %s. The pump stays off: %s. Find and clear the cause, then reset the bench.", b.Name, controller.Called(safety.Interlock(t.Interlock)), t.Detail)
	}
	if b.Sanitising != nil {
		add(byToday, b.Name, "%s: it is being sanitised, and nothing floods by itself. Rinse it twice, throw the water away, and confirm.", b.Name)
	}
	if r := b.Refusal; r != nil && len(b.Latched) == 0 && b.Flood == nil && !passing(r) {
		add(byToday, b.Name, "%s: a flood would not start. %s: %s.", b.Name, controller.Called(safety.Interlock(r.Interlock)), r.Detail)
	}
	if l := b.Last; l != nil && b.Flood == nil && len(b.Latched) == 0 && failed(l) {
		add(byToday, b.Name, "%s: the last flood is %s: %s.", b.Name, l.Outcome, l.Reason)
	}
}

// passing reports whether a refusal ends by itself, or is told of elsewhere.
func passing(r *Refusal) bool {
	return r.Until != nil || r.Interlock == string(safety.HandsIn)
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

func (s *Status) thirst(b *BatchStatus, add func(urgency, bench, format string, args ...any)) {
	left := time.Duration((b.LimitS - b.SinceS) * float64(time.Second))
	switch {
	case b.LimitS <= 0:
	case b.Ratio >= 1:
		add(atOnce, b.Bench, "%s on %s %s. Water it by hand, or see that a flood runs.", b.Name, b.Bench, b.waited())
	case b.Ratio >= wearsThin && !s.floodsWithin(b.Bench, left):
		add(byToday, b.Bench, "%s on %s %s, and no flood is planned in time.", b.Name, b.Bench, b.waited())
	}
}

// waited says how long a batch has been without water, and what it can stand.
func (b *BatchStatus) waited() string {
	since := fmt.Sprintf("was last watered %.0f h ago", b.SinceS/3600)
	if b.NoFlood {
		since = fmt.Sprintf("has no flood on record, counted from %.0f h ago,", b.SinceS/3600)
	}
	if b.LimitBy == "pots" {
		return fmt.Sprintf("%s and its pots last %.0f h in hot weather", since, b.LimitS/3600)
	}
	return fmt.Sprintf("%s and can wait %.0f h", since, b.LimitS/3600)
}

// floodsWithin reports whether a bench floods, or is to flood in that time.
func (s *Status) floodsWithin(bench string, left time.Duration) bool {
	for i := range s.Benches {
		b := &s.Benches[i]
		if b.Name != bench {
			continue
		}
		return b.Flood != nil || b.Next != nil && b.PausedUntil == nil && b.Sanitising == nil && controller.Instant(b.Next.Due).Sub(controller.Instant(s.At)) < left
	}
	return false
}

// Attend adds what a person is needed for to a picture.
func (s *Status) Attend() {
	s.Needs = s.needs()
	s.NeedsYou = noNeed
	if len(s.Needs) > 0 {
		s.NeedsYou = s.Needs[0].Urgency
	}
}
