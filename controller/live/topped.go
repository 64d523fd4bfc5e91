package live

import (
	"context"
	"slices"
	"time"

	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// stillNow is how old a note may be that says what a reservoir holds at present.
const stillNow = time.Hour

// topped lets the controller know what somebody added to a reservoir or took out,
// and when, so that it misses no water that was written down. A reservoir that was
// changed without a number was filled to its mark. The entry is kept whether it
// hears of it or not.
func (s *Site) topped(n Note) {
	k := slices.Index(s.o.Site.ReservoirNames(), n.Place)
	if s.loop == nil || k < 0 {
		return
	}
	litres := safety.Litres(s.o.Site.Reservoirs[k].Usable)
	if n.Value != nil {
		litres = safety.Litres(*n.Value)
	}
	var take func(loop.Core)
	switch kind := ledger.DiaryKind(n.Kind); {
	case kind == ledger.TopUp:
		take = func(c loop.Core) { c.Controller.ToppedUp(c.Now, k, litres, n.At) }
	case kind == ledger.TakenOut:
		take = func(c loop.Core) { c.Controller.ToppedUp(c.Now, k, -litres, n.At) }
	case kind == ledger.SolutionChange && n.Now.Sub(n.At) <= stillNow:
		take = func(c loop.Core) { c.Controller.Filled(c.Now, k, litres) }
	default:
		return
	}
	_ = s.act(context.Background(), loop.Stands, func(c loop.Core) error {
		take(c)
		return nil
	})
}
