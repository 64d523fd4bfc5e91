package sim

import (
	"fmt"

	"benchtide/safety"
)

// Refill brings a reservoir up to its fill mark with solution of this strength,
// as a person does, and gives the litres added. Whether water stands on its
// tables is the person's to look at; see Flooded.
func (w *World) Refill(reservoir int, strength float64) safety.Litres {
	missing := float64(w.reservoirs[reservoir].Usable) - w.Reservoirs[reservoir].Litres
	return w.TopUp(reservoir, safety.Litres(missing), strength)
}

// TopUp adds litres of this strength to a reservoir; what does not fit spills.
func (w *World) TopUp(reservoir int, litres safety.Litres, strength float64) safety.Litres {
	if !(litres > 0) {
		return 0
	}
	s := &w.Reservoirs[reservoir]
	s.Litres += float64(litres)
	s.Salt += float64(litres) * strength
	s.ToppedUp += float64(litres)
	w.Totals.ToppedUp += float64(litres)
	w.brim(reservoir)
	w.floats()
	return litres
}

// Flooded says whether water stands on a table of this reservoir.
func (w *World) Flooded(reservoir int) bool {
	for i := range w.benches {
		if w.benches[i].Reservoir == reservoir && w.Benches[i].Litres > 0 {
			return true
		}
	}
	return false
}

// Mop dries the floor under a bench and its leak switch.
func (w *World) Mop(bench int) {
	w.Benches[bench].Floor = 0
	w.floats()
}

// Press holds or lets go the hands-in button.
func (w *World) Press(on bool) {
	w.changed = w.changed || w.Pressed != on
	w.Pressed = on
}

// Lift moves a float by hand, as a proof test does: a bench's switch
// ("north.high") up, a reservoir's ("tank.low", "tank.level") down to
// where it reads low.
func (w *World) Lift(where string, on bool) error {
	t, err := w.locate(onSwitch, where)
	if err != nil || t.Switch == handsInSwitch {
		return fmt.Errorf("lift a float by hand: %w", orNoFloat(err, where))
	}
	if t.Bench >= 0 {
		w.Benches[t.Bench].Lifted[t.Switch] = on
	} else {
		r := &w.Reservoirs[t.Reservoir]
		if t.Switch == levelSwitch {
			r.LiftedLevel = on
		} else {
			r.Lifted = on
		}
	}
	w.switchOver()
	return nil
}

func orNoFloat(err error, where string) error {
	if err == nil {
		return fmt.Errorf("%q has no float", where)
	}
	return err
}

// topUps does what top-up-while-flooded waits for: somebody refills a reservoir
// while half a flood stands on one of its tables, and drain-back overfills it.
func (w *World) topUps() {
	for i := range w.Faults {
		f := &w.Faults[i]
		if f.Begun && f.What == "top-up-while-flooded" && !f.Done && w.halfFlooded(f.Target.Reservoir) {
			f.Done = true
			r := f.Target.Reservoir
			w.Refill(r, strength(w.Reservoirs[r].Salt, w.Reservoirs[r].Litres))
		}
	}
}

func (w *World) halfFlooded(reservoir int) bool {
	for i := range w.benches {
		b := &w.benches[i]
		if b.Reservoir == reservoir && b.basin.depth(w.Benches[i].Litres) > float64(b.Crest)/2 {
			return true
		}
	}
	return false
}
