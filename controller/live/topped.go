package live

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
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

// asks is what there is to ask about a note on the water of a reservoir, beside
// what its weighings showed.
func (s *Site) asks(n Note) []string {
	k := slices.Index(s.o.Site.ReservoirNames(), n.Place)
	if s.loop == nil || k < 0 {
		return nil
	}
	if p := s.loop.Snapshot(); p != nil {
		return askedOfWater(n, &p.Status.Reservoirs[k], &s.names.Names)
	}
	return nil
}

// lately is how long after it came water may still be written down by itself.
const lately = 48 * time.Hour

// askedOfWater asks about a top-up that may be the water which came, and about
// water taken out that may be what is missing: both are known already. With the
// time at which it was poured or taken, or once a person has answered, it is
// clear.
func askedOfWater(n Note, r *controller.ReservoirStatus, names *controller.Names) []string {
	same := func(u *controller.Unexplained, known controller.Answer) bool {
		near := n.Value != nil && math.Abs(*n.Value-float64(u.Litres)) <= float64(u.Litres)/4
		after := !n.At.Before(u.At) && n.Now.Sub(u.At) < lately
		return u.Litres > 0 && after && (u.Answer == controller.Open || u.Answer == known && near)
	}
	const day = "Mon 2 Jan 15:04"
	switch kind := ledger.DiaryKind(n.Kind); {
	case kind == ledger.TopUp && same(&r.Came, controller.Poured):
		return []string{fmt.Sprintf("%s came before %s and are booked as a top-up already. Is this more water? If it is that water, give the time at which you poured it, or write nothing.",
			names.Units.Weighed(quantity.Litres(r.Came.Litres)), r.Came.At.In(names.Zone).Format(day))}
	case kind == ledger.TakenOut && same(&r.Missing, controller.TakenOut):
		return []string{fmt.Sprintf("%s are missing since before %s. Is this other water? If it is that water, say so of the missing water, and write nothing.",
			names.Units.Weighed(quantity.Litres(r.Missing.Litres)), r.Missing.At.In(names.Zone).Format(day))}
	}
	return nil
}
