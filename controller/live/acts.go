package live

import (
	"context"
	"errors"
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// act runs f between two turns and waits for the turn that acts on it. What f
// refuses is the answer no.
func (s *Site) act(ctx context.Context, fate loop.Fate, f func(loop.Core) error) error {
	soon, cancel := context.WithTimeout(ctx, turnsIn)
	defer cancel()
	var before *loop.Snapshot
	var no error
	err := s.loop.Do(soon, fate, func(c loop.Core) error {
		no, before = f(c), s.loop.Snapshot()
		return nil
	})
	switch {
	case errors.Is(err, loop.ErrNotKnown):
		return fmt.Errorf("%w: %w", ErrNotKnown, err)
	case err != nil:
		return fmt.Errorf("%w: %w", ErrUnavailable, err)
	}
	if no != nil {
		return refusal(no)
	}
	if _, err := s.after(ctx, before); err != nil {
		return fmt.Errorf("%w: it was taken up, and no turn came: %w", ErrNotKnown, err)
	}
	return nil
}

// refusal is the answer no, as it is shown.
func refusal(no error) Refused {
	if shown, ok := errors.AsType[Refused](no); ok {
		return shown
	}
	r := Refused{Reason: no.Error()}
	if stopped, ok := errors.AsType[controller.ErrStopped](no); ok {
		r.Until = stopped.Until
	}
	if errors.Is(no, controller.ErrUnsure) {
		r.Needs = "proof"
	}
	return r
}

// Flood asks for a flood that may begin now.
func (s *Site) Flood(ctx context.Context, bench int, hold time.Duration, by controller.Asker) error {
	if _, err := s.fresh(ctx); err != nil {
		return err
	}
	return s.act(ctx, loop.Lapses, func(c loop.Core) error {
		no := c.Controller.FloodNow(c.Now, bench, hold, by)
		if guard, ok := errors.AsType[controller.ErrGuard](no); ok {
			return s.refused(c.Now, bench, guard.Refusal)
		}
		return no
	})
}

func (s *Site) refused(now safety.Now, bench int, r safety.Refusal) Refused {
	no := Refused{
		Interlock: string(r.Interlock), Latched: r.Latched,
		Reason: fmt.Sprintf("flood %s: %s", s.names.Titles.Bench(s.names.Benches[bench]), controller.Phrase(s.names.Titles, r.Interlock, r.Detail, s.names.Benches[bench])),
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

// Stop ends the flood of a bench, under way or waiting.
func (s *Site) Stop(ctx context.Context, bench int, by controller.Asker) error {
	return s.act(ctx, loop.Stands, func(c loop.Core) error { return c.Controller.StopNow(c.Now, bench, by) })
}

// Pause keeps benches from flooding by themselves until a time.
func (s *Site) Pause(ctx context.Context, benches []int, until time.Time, by string) error {
	return s.act(ctx, loop.Stands, func(c loop.Core) error {
		for _, b := range benches {
			if err := c.Controller.Pause(c.Now, b, until, by); err != nil {
				return err
			}
		}
		return nil
	})
}

// Resume ends their pauses. It refuses only where none of the benches is paused.
func (s *Site) Resume(ctx context.Context, benches []int) error {
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
func (s *Site) HandsIn(ctx context.Context, on bool, by controller.Asker) error {
	fate := loop.Lapses
	if on {
		fate = loop.Stands
	}
	return s.act(ctx, fate, func(c loop.Core) error {
		if err := c.Controller.HandsIn(c.Now, on, by); err != nil {
			return err
		}
		c.Guard.SetHandsIn(c.Now, on)
		return nil
	})
}

// Reset clears the trips of a bench; found is what a person found there.
func (s *Site) Reset(ctx context.Context, bench int, found string) error {
	return s.act(ctx, loop.Lapses, func(c loop.Core) error { return c.Guard.Reset(c.Now, bench, found) })
}

// Drop takes a bench that left the file off the list; found is what a person
// found there.
func (s *Site) Drop(ctx context.Context, name, found string) error {
	return s.act(ctx, loop.Lapses, func(c loop.Core) error { return c.Guard.Drop(c.Now, name, found) })
}

// SkipNext leaves out a flood: the one of a slot, or of slot 0 the next.
func (s *Site) SkipNext(ctx context.Context, bench int, slot schedule.Civil) (SkippedFlood, error) {
	return s.skip(ctx, loop.Stands, func(c loop.Core) (schedule.Planned, error) {
		if slot == 0 {
			return c.Controller.SkipNext(c.Now, bench)
		}
		return c.Controller.SkipSlot(c.Now, bench, slot)
	})
}

// UndoSkip takes back the skip of a slot, or of slot 0 the last.
func (s *Site) UndoSkip(ctx context.Context, bench int, slot schedule.Civil) (SkippedFlood, error) {
	return s.skip(ctx, loop.Lapses, func(c loop.Core) (schedule.Planned, error) { return c.Controller.UndoSkip(c.Now, bench, slot) })
}

func (s *Site) skip(ctx context.Context, fate loop.Fate, do func(loop.Core) (schedule.Planned, error)) (SkippedFlood, error) {
	var p SkippedFlood // still to be written where the answer is ErrNotKnown
	err := s.act(ctx, fate, func(c loop.Core) error {
		flood, err := do(c)
		p = Skipped(flood, s.names.Zone)
		return err
	})
	if err != nil {
		return SkippedFlood{}, err
	}
	return p, nil
}

// Tell has a person told.
func (s *Site) Tell(ctx context.Context, m controller.Message) {
	_ = s.loop.Do(ctx, loop.Stands, func(c loop.Core) error { // it only fails when the loop has ended
		c.Controller.Tell(m)
		return nil
	})
}

// noted has what is worked out from the diary worked out anew, and the watch on
// slow changes begin anew where a person's note says that a bench has changed.
func (s *Site) noted(n Note) {
	s.outlooks.forget()
	benches := Changes(s.o.Site, n)
	if len(benches) == 0 {
		return
	}
	_ = s.loop.Do(context.Background(), loop.Stands, func(loop.Core) error { // it only fails when the loop has ended
		for _, b := range benches {
			s.o.Rebaseline(b)
		}
		return nil
	})
}
