package live

import (
	"context"
	"fmt"
	"slices"

	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/schedule"
)

// present is the site with its batches as people have changed them since.
func (s *Site) present() *config.Site {
	p := s.loop.Snapshot()
	if p == nil {
		return s.o.Site
	}
	site := *s.o.Site
	site.Batches = slices.Clone(site.Batches)
	for i, b := range p.Status.Batches {
		site.Batches[i].Closed, site.Batches[i].Passages = b.Closed, b.Passages
	}
	return &site
}

// Sanitise keeps planned floods off the bench and those that share its water.
func (s *Site) Sanitise(ctx context.Context, bench int, by string) error {
	return s.act(ctx, loop.Stands, func(c loop.Core) error { return c.Controller.Sanitise(c.Now, bench, by) })
}

// Rinsed ends that, and has the watch on slow changes begin anew.
func (s *Site) Rinsed(ctx context.Context, bench int, by string) error {
	return s.act(ctx, loop.Lapses, func(c loop.Core) error {
		if err := c.Controller.Rinsed(c.Now, bench, by); err != nil {
			return err
		}
		for b := range s.o.Site.Benches {
			if s.o.Site.Benches[b].Reservoir == s.o.Site.Benches[bench].Reservoir {
				s.o.Rebaseline(b)
			}
		}
		return nil
	})
}

// Advance has a batch enter the stage from a day of its age, or, without one,
// the stage that is due, else the next.
func (s *Site) Advance(ctx context.Context, batch int, fromDay *int) (int, error) {
	stages := s.o.Site.Plans[s.o.Site.Batches[batch].Plan].Stages
	to := 0
	err := s.act(ctx, loop.Lapses, func(c loop.Core) error {
		if k := s.loop.Snapshot().Status.Batches[batch]; k.Stands {
			to = max(k.Due, k.Stage+1)
		}
		if fromDay != nil {
			if to = slices.IndexFunc(stages, func(st schedule.Stage) bool { return st.FromDay == *fromDay }); to < 0 {
				return Refused{Reason: fmt.Sprintf("advance %s: its plan has no stage from day %d; it has them from %s", s.names.Titles.Batch(s.names.Batches[batch]), *fromDay, daysOf(stages))}
			}
		}
		return c.Controller.Advance(c.Now, batch, to)
	})
	if err != nil {
		return 0, err
	}
	return stages[to].FromDay, nil
}

// daysOf lists the days at which stages begin.
func daysOf(stages []schedule.Stage) string {
	text := "day"
	for i, st := range stages {
		if i > 0 {
			text += ","
		}
		text += fmt.Sprintf(" %d", st.FromDay)
	}
	return text
}

// CloseBatch gives a batch its last day; 0 takes an earlier word back.
func (s *Site) CloseBatch(ctx context.Context, batch int, last schedule.Date) error {
	fate := loop.Stands
	if p := s.loop.Snapshot(); last == 0 || p != nil && p.Status.Batches[batch].Closed != 0 && p.Status.Batches[batch].Closed < last {
		fate = loop.Lapses // more floods come
	}
	return s.act(ctx, fate, func(c loop.Core) error { return c.Controller.Close(c.Now, batch, last) })
}

// Empty closes every batch that stands on a bench.
func (s *Site) Empty(ctx context.Context, bench int) ([]string, error) {
	var closed []string // still to be written where the answer is ErrNotKnown
	err := s.act(ctx, loop.Stands, func(c loop.Core) (no error) {
		closed, no = c.Controller.Empty(c.Now, bench)
		return no
	})
	if err != nil {
		return nil, err
	}
	return closed, nil
}
