package live

import (
	"context"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// nearFlood is too close to the next flood to start anew.
const nearFlood = time.Minute

// Quiet reports whether nothing floods, waits to or is about to, every pump
// circuit is open, and storage takes what the next start goes on from.
func (s *Site) Quiet(ctx context.Context) bool {
	takes := s.o.Ledger.Stats().Trouble == nil
	quiet := false
	_ = s.loop.Do(ctx, loop.Lapses, func(c loop.Core) error { // a loop that has ended is not quiet
		p := s.loop.Snapshot()
		if p == nil {
			return nil
		}
		quiet = takes
		for i := range p.Status.Benches {
			b := &p.Status.Benches[i]
			near := b.HasNext && b.Next.Due.Sub(c.Now.Wall) < nearFlood
			quiet = quiet && b.Phase == controller.Rest && b.Queued == 0 && !near
		}
		for i, o := range s.loop.Limits.Outputs {
			quiet = quiet && (o.Kind == safety.Other || !p.Command.On(i))
		}
		return nil
	})
	return quiet
}
