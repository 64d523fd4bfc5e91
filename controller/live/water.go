package live

import (
	"context"
	"errors"
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

// Span is between what a figure lies, in 19 cases of 20.
type Span struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// KnownWater is what a reservoir held when that was last known.
type KnownWater struct {
	Litres float64 `json:"litres"`
	At     string  `json:"at"`
}

// Unexplained is water that weighings cannot explain, until a person does.
type Unexplained struct {
	Litres float64 `json:"litres"`
	Bench  *string `json:"bench"` // whose floods lost it; null where it is the reservoir's
	From   string  `json:"from"`  // of the weighing before
	At     string  `json:"at"`    // when it showed
	Answer string  `json:"answer"`
	By     string  `json:"by"`
}

// rested says of a reservoir what its litres rest on.
func (s *ReservoirStatus) rested(r *controller.ReservoirStatus, n *Names, now time.Time) {
	s.Level, s.Basis = r.Level.String(), string(r.Basis)
	s.At = controller.StampOrNil(r.Since, n.Zone)
	if r.Basis != controller.Unknown {
		s.Span = &Span{quantity.Rounded(float64(r.Span[0]), 0.1), quantity.Rounded(float64(r.Span[1]), 0.1)}
	} else if !r.HadAt.IsZero() {
		s.LastKnown = &KnownWater{quantity.Rounded(float64(r.Had), 0.1), controller.Stamp(r.HadAt, n.Zone)}
	}
	s.Missing, s.Came = unexplained(&r.Missing, n.Zone), unexplained(&r.Came, n.Zone)
	s.Words = waterWords(r, n.Units, n.Zone, now)
}

func unexplained(u *controller.Unexplained, zone *time.Location) *Unexplained {
	if u.Litres <= 0 {
		return nil
	}
	shown := &Unexplained{
		Litres: quantity.Rounded(float64(u.Litres), 0.1), From: controller.Stamp(u.From, zone), At: controller.Stamp(u.At, zone), Answer: string(u.Answer), By: u.By,
	}
	if u.Bench != "" {
		shown.Bench = &u.Bench
	}
	return shown
}

// span is between which volumes water lies; nothing where they are read alike.
func span(least, most quantity.Litres, u quantity.Units) string {
	if u.Volumes(least, "", most) == u.Volumes(most, "", most) {
		return ""
	}
	return ", between " + u.Volumes(least, "and", most)
}

// waterWords says how much a reservoir holds and how that is known.
func waterWords(r *controller.ReservoirStatus, u quantity.Units, zone *time.Location, now time.Time) string {
	when := func(t time.Time) string {
		layout := "Mon 2 Jan 15:04"
		if t.In(zone).Format(time.DateOnly) == now.In(zone).Format(time.DateOnly) {
			layout = "15:04"
		}
		return t.In(zone).Format(layout)
	}
	held := u.Weighed(quantity.Litres(r.Litres))
	between := span(quantity.Litres(r.Span[0]), quantity.Litres(r.Span[1]), u)
	if r.Whole > 0 && r.Basis != controller.Unknown {
		held = u.Weighed(quantity.Litres(r.Whole)) + " with what is on its tables"
		between = span(quantity.Litres(max(0, r.Whole-r.Give)), quantity.Litres(r.Whole+r.Give), u)
	}
	switch r.Basis {
	case controller.Weighed:
		return fmt.Sprintf("%s, weighed %s%s", held, when(r.Since), between)
	case controller.Noted:
		return fmt.Sprintf("%s, as written down %s%s", held, when(r.Since), between)
	case controller.Expected:
		return fmt.Sprintf("%s expected%s, from what was known %s", held, between, when(r.Since))
	}
	text := "not known since " + when(r.Since)
	if !r.HadAt.IsZero() {
		text += fmt.Sprintf("; it last held %s, %s", u.Weighed(quantity.Litres(r.Had)), when(r.HadAt))
	}
	if r.Litres > 0 {
		text += fmt.Sprintf("; its switch shows that it holds %s or more", held)
	}
	return text
}

// Explained is what became of a person's word on water.
type Explained struct {
	Unexplained
	First   bool     // it is news
	Latched []string // benches of the reservoir that lost water keeps off until they are reset
}

// TookOut takes a person's word that the water which a reservoir lost was taken
// out. shown is what the person was told of; 0 means all of it.
func (s *Site) TookOut(ctx context.Context, reservoir int, shown float64, by string) (Explained, error) {
	return s.explain(ctx, func(c loop.Core) (controller.Unexplained, bool, error) {
		return c.Controller.TookOut(c.Now, reservoir, safety.Litres(shown), by)
	}, reservoir)
}

// ToppedUp takes a person's word on water that came and that nobody wrote down.
func (s *Site) ToppedUp(ctx context.Context, reservoir int, poured bool, shown float64, by string) (Explained, error) {
	return s.explain(ctx, func(c loop.Core) (controller.Unexplained, bool, error) {
		return c.Controller.ToppedUpOrNot(c.Now, reservoir, poured, safety.Litres(shown), by)
	}, reservoir)
}

func (s *Site) explain(ctx context.Context, do func(loop.Core) (controller.Unexplained, bool, error), reservoir int) (e Explained, err error) {
	err = s.act(ctx, loop.Stands, func(c loop.Core) error {
		u, first, err := do(c)
		if other, ok := errors.AsType[controller.ErrOtherLitres](err); ok {
			return Refused{Reason: other.Reason}
		}
		if err != nil {
			return err
		}
		e = Explained{Unexplained: *unexplained(&u, s.names.Zone), First: first}
		for b, st := range s.loop.Snapshot().Status.Benches {
			for _, t := range st.Latched {
				if s.o.Site.Benches[b].Reservoir == reservoir && t.Interlock == safety.LostWater {
					e.Latched = append(e.Latched, s.names.Titles.Bench(s.names.Benches[b]))
				}
			}
		}
		return nil
	})
	if err == nil && e.First {
		s.outlooks.forget()
	}
	return e, err
}
