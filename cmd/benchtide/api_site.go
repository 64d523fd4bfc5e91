package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/controller/web"
	"benchtide/safety"
	"benchtide/schedule"
)

// liveSite shows the running site to the API and carries its acts to the loop.
// It looks at the picture that the loop publishes, so that any number of clients
// cost the loop nothing; only when that picture has become old does one of them
// wake it.
type liveSite struct {
	site     *config.Site
	loop     *loop.Loop
	names    web.Names
	record   func() ledger.Stats
	messages func() web.MessagesStatus
	kept     bool // the record outlasts the program
	checked  func(safety.Now) web.CommissioningStatus
	publish  func(web.Event)

	grown      func(context.Context, time.Time) (*grow.Record, error)
	rebaseline func(bench int) // has the watch on slow changes begin anew; for the loop's goroutine alone
	outlooks   outlooks
}

var (
	_ web.Site  = (*liveSite)(nil)
	_ loop.Sink = (*liveSite)(nil)
)

// Turn passes the events on.
func (s *liveSite) Turn(t *loop.Turn) {
	for i := range t.Events {
		if k := t.Events[i].Kind; k == controller.StageBegan || k == controller.BatchClosed {
			s.outlooks.forget()
		}
		e := describe(t.Names, &t.Events[i])
		at := controller.Stamp(t.Events[i].At.Wall, t.Names.Zone)
		s.publish(web.Event{At: at, Kind: e.kind, Level: levels[e.level], Bench: e.bench, Text: e.text})
	}
}

// Ages and patience of a picture.
const (
	freshFor = time.Second
	turnsIn  = 2 * time.Second
)

// fresh is the picture of a recent turn.
func (s *liveSite) fresh(ctx context.Context) (*loop.Picture, error) {
	p := s.loop.Picture()
	if p != nil && time.Since(p.At) < freshFor {
		return p, nil
	}
	s.loop.Wake()
	return s.after(ctx, p)
}

// after waits for the picture of a turn after that of p, which is nil before the
// first.
func (s *liveSite) after(ctx context.Context, p *loop.Picture) (*loop.Picture, error) {
	number := int64(0)
	if p != nil {
		number = p.Number
	}
	within, cancel := context.WithTimeout(ctx, turnsIn)
	defer cancel()
	next, err := s.loop.After(within, number)
	switch {
	case err == nil:
		return next, nil
	case ctx.Err() == nil:
		return nil, fmt.Errorf("%w: no turn of its loop for %s", web.ErrUnavailable, turnsIn)
	}
	return nil, fmt.Errorf("%w: %w", web.ErrUnavailable, err)
}

func (s *liveSite) Status(ctx context.Context) (web.Status, error) {
	p, err := s.fresh(ctx)
	if err != nil {
		return web.Status{}, err
	}
	st := web.StatusOf(&p.Status, &s.names)
	for i, name := range s.names.Outputs {
		st.Outputs = append(st.Outputs, web.OutputStatus{Name: name, On: p.Command.On(i)})
	}
	s.topUps(&st)
	stats := s.record()
	st.Messages = s.messages()
	st.Commissioning = s.checked(p.Status.Now)
	st.Record = web.RecordStatus{Kept: s.kept, Waiting: stats.Waiting, Errors: stats.Errors, Dropped: stats.Dropped}
	if stats.Trouble != nil {
		text := stats.Trouble.Error()
		st.Record.Trouble = &text
	}
	return st, nil
}

func (s *liveSite) Calendar(from schedule.Date, days int) (web.Calendar, error) {
	p, err := planOf(s.present(), from, days)
	if err != nil {
		return web.Calendar{}, err
	}
	return p.object(), nil
}

// act runs f between two turns and waits for the turn that acts on it. What f
// refuses is the answer no.
func (s *liveSite) act(ctx context.Context, fate loop.Fate, f func(loop.Core) error) error {
	soon, cancel := context.WithTimeout(ctx, turnsIn)
	defer cancel()
	var before *loop.Picture
	var no error
	err := s.loop.Do(soon, fate, func(c loop.Core) error {
		no, before = f(c), s.loop.Picture()
		return nil
	})
	switch {
	case errors.Is(err, loop.ErrNotKnown):
		return fmt.Errorf("%w: %w", web.ErrNotKnown, err)
	case err != nil:
		return fmt.Errorf("%w: %w", web.ErrUnavailable, err)
	}
	if refused, ok := errors.AsType[web.Refused](no); ok {
		return refused
	}
	if no != nil {
		return web.Refused{Reason: no.Error()}
	}
	if _, err := s.after(ctx, before); err != nil {
		return fmt.Errorf("%w: it was taken up, and no turn came: %w", web.ErrNotKnown, err)
	}
	return nil
}

// Flood asks for a flood that the guard would allow now. One that it would
// refuse is refused at once: a person at the bench is not to be surprised by
// it two hours later.
func (s *liveSite) Flood(ctx context.Context, bench int, hold time.Duration) error {
	if _, err := s.fresh(ctx); err != nil {
		return err
	}
	return s.act(ctx, loop.Lapses, func(c loop.Core) error {
		if b := &s.loop.Picture().Status.Benches[bench]; b.Start.No() && b.Phase == controller.Rest {
			return s.refused(c.Now, bench, b.Start)
		}
		return c.Controller.Flood(c.Now, bench, hold)
	})
}

func (s *liveSite) refused(now safety.Now, bench int, r safety.Refusal) web.Refused {
	no := web.Refused{
		Interlock: string(r.Interlock), Latched: r.Latched,
		Reason: fmt.Sprintf("flood %s: %s", s.names.Benches[bench], because(string(r.Interlock), r.Detail)),
	}
	if r.Latched {
		no.Reason += "; clear the cause, then reset the bench"
	}
	if r.Until > now.Mono {
		no.Until = now.Wall.Add(r.Until - now.Mono)
		no.Reason += "; it may pass at " + no.Until.In(s.names.Zone).Format("15:04")
	}
	return no
}

func (s *liveSite) Stop(ctx context.Context, bench int) error {
	return s.act(ctx, loop.Stands, func(c loop.Core) error { return c.Controller.StopFlood(c.Now, bench) })
}

func (s *liveSite) Pause(ctx context.Context, benches []int, until time.Time, by string) error {
	return s.act(ctx, loop.Stands, func(c loop.Core) error {
		for _, b := range benches {
			if err := c.Controller.Pause(c.Now, b, until, by); err != nil {
				return err
			}
		}
		return nil
	})
}

// Resume refuses only where none of the benches is paused.
func (s *liveSite) Resume(ctx context.Context, benches []int) error {
	return s.act(ctx, loop.Lapses, func(c loop.Core) (no error) {
		resumed := false
		for _, b := range benches {
			err := c.Controller.Resume(c.Now, b)
			resumed = resumed || err == nil
			no = errors.Join(no, err)
		}
		if resumed {
			return nil
		}
		return no
	})
}

// HandsIn puts every pump off, or lets floods start again.
func (s *liveSite) HandsIn(ctx context.Context, on bool) error {
	fate := loop.Lapses
	if on {
		fate = loop.Stands
	}
	return s.act(ctx, fate, func(c loop.Core) error {
		c.Guard.SetHandsIn(c.Now, on)
		return nil
	})
}

func (s *liveSite) Reset(ctx context.Context, bench int, found string) error {
	return s.act(ctx, loop.Lapses, func(c loop.Core) error { return c.Guard.Reset(c.Now, bench, found) })
}

func (s *liveSite) Drop(ctx context.Context, name, found string) error {
	return s.act(ctx, loop.Lapses, func(c loop.Core) error { return c.Guard.Drop(c.Now, name, found) })
}

func (s *liveSite) SkipNext(ctx context.Context, bench int, slot schedule.Civil) (web.SkippedFlood, error) {
	return s.skip(ctx, func(c loop.Core) (schedule.Planned, error) {
		if slot == 0 {
			return c.Controller.SkipNext(c.Now, bench)
		}
		return c.Controller.SkipSlot(c.Now, bench, slot)
	})
}

func (s *liveSite) UndoSkip(ctx context.Context, bench int, slot schedule.Civil) (web.SkippedFlood, error) {
	return s.skip(ctx, func(c loop.Core) (schedule.Planned, error) { return c.Controller.UndoSkip(c.Now, bench, slot) })
}

func (s *liveSite) skip(ctx context.Context, do func(loop.Core) (schedule.Planned, error)) (p web.SkippedFlood, err error) {
	err = s.act(ctx, loop.Lapses, func(c loop.Core) error {
		flood, err := do(c)
		p = web.Skipped(flood, s.names.Zone)
		return err
	})
	return p, err
}
