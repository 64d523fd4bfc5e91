package live

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"benchtide/controller"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/loop"
	"benchtide/schedule"
)

// adviser looks at the plants once a morning and tells of stages that records
// and weather propose, and of what only a person can tell. The stages that are
// due by age are the controller's to tell of.
type adviser struct {
	zone *time.Location
	on   schedule.Date // of the last look; of the loop's goroutine

	looking atomic.Bool
}

// advisedAt is the hour of the look.
const advisedAt = 8

// due reports whether the hour of the look has come. On the day of a start it
// was done before.
func (a *adviser) due(t *loop.Turn) bool {
	here := schedule.CivilIn(t.Now.Wall, a.zone)
	if !t.Now.Trusted || here.TimeOfDay() < advisedAt*3600 || here.Date() == a.on {
		return false
	}
	started := a.on == 0
	a.on = here.Date()
	return !started
}

// advise has a person told the proposals and questions of a day, of which the
// controller knows what is new.
// A look that takes until the next morning is not joined by another.
func (s *Site) advise(ctx context.Context, now time.Time) {
	if !s.adviser.looking.CompareAndSwap(false, true) {
		return
	}
	defer s.adviser.looking.Store(false)
	advice, o := s.advice(ctx, now)
	_ = s.loop.Do(ctx, loop.Stands, func(c loop.Core) error { // it only fails when the loop has ended
		for _, m := range advice {
			c.Controller.Advise(c.Now, m)
		}
		for i := range learned(o) {
			c.Controller.Learnt(i, o.Grow.Batches[i].Demand.Scale)
		}
		return nil
	})
}

// learned are the batches of an outlook of which it says what they use.
func learned(o *outlook.Outlook) []grow.Batch {
	if o == nil {
		return nil
	}
	return o.Grow.Batches
}

// advice is what the day's outlook proposes and asks, and the outlook. What it cannot
// work out the outlook says when asked, and that storage has gone is told of elsewhere.
func (s *Site) advice(ctx context.Context, now time.Time) (all []controller.Message, o *outlook.Outlook) {
	r, err := s.record.grown(ctx, now)
	if err != nil {
		return nil, nil
	}
	today := schedule.CivilIn(now, s.names.Zone).Date()
	if o, err = outlook.Of(s.present(), today, 1, r); err != nil {
		return nil, nil
	}
	say := func(bench int, cause, text string) {
		all = append(all, controller.Message{Urgency: controller.ThisWeek, Bench: bench, Cause: cause, Text: text})
	}
	for _, p := range o.Learned.Proposals {
		b := o.Site.Batches[p.Batch]
		if due, _ := b.ByAge(o.Site.Plans[b.Plan], today); due == p.Stage && b.Asked {
			continue
		}
		say(b.Bench, fmt.Sprintf("stage-%s-%d", b.Name, p.Stage), o.Proposal(p))
	}
	for _, q := range o.Learned.Questions {
		say(q.Bench, fmt.Sprintf("question-%d-%d", q.Bench, q.Batch), q.Text)
	}
	return all, o
}
