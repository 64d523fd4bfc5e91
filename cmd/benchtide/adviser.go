package main

import (
	"context"
	"fmt"
	"sync"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/schedule"
)

// adviser is a sink that looks at the plants once a morning and tells of stages
// that records and weather propose, and of what only a person can tell. What it
// has told it tells again after a week. The stages that are due by age are the
// controller's to tell of.
type adviser struct {
	zone *time.Location
	look func(now time.Time) // in its own time; the loop does not wait for it
	on   schedule.Date       // of the last look
}

// advisedAt is the hour of the look.
const advisedAt = 8

// Turn looks when the hour has come. On the day of a start it was done before.
func (a *adviser) Turn(t *loop.Turn) {
	here := schedule.CivilIn(t.Now.Wall, a.zone)
	today := here.Date()
	switch {
	case !t.Now.Trusted || here.TimeOfDay() < advisedAt*3600 || today == a.on:
	case a.on == 0:
		a.on = today
	default:
		a.on = today
		a.look(t.Now.Wall)
	}
}

// again is after how long something is told once more.
const again = 7 * 24 * time.Hour

// advice works out what an adviser tells.
type advice struct {
	site *liveSite
	tell func(context.Context, controller.Message)

	mu   sync.Mutex
	told map[string]time.Time // by cause
}

// give tells what is new of the proposals and questions of a day.
func (a *advice) give(ctx context.Context, now time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	today := schedule.CivilIn(now, a.site.names.Zone).Date()
	r, err := a.site.grown(ctx, now)
	if err != nil {
		return // storage has gone, and is told of
	}
	o, err := outlookOf(a.site.present(), today, 1, r)
	if err != nil {
		return // what it cannot work out the outlook says when asked
	}
	for _, p := range o.learned.proposals {
		b := o.site.Batches[p.Batch]
		if due, _ := b.ByAge(o.site.Plans[b.Plan], today); due == p.Stage && b.Asked {
			continue
		}
		a.once(ctx, now, b.Bench, fmt.Sprintf("stage-%s-%d", b.Name, p.Stage), o.proposal(p))
	}
	for _, q := range o.learned.questions {
		a.once(ctx, now, q.Bench, fmt.Sprintf("question-%d-%d", q.Bench, q.Batch), q.Text)
	}
}

func (a *advice) once(ctx context.Context, now time.Time, bench int, cause, text string) {
	if at, ok := a.told[cause]; ok && now.Sub(at) < again {
		return
	}
	a.told[cause] = now
	a.tell(ctx, controller.Message{Urgency: controller.ThisWeek, Bench: bench, Cause: cause, Text: text})
}
