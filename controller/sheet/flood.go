package sheet

import (
	"errors"
	"fmt"
	"time"

	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
)

// fill finds T_fill and the flow that goes with it.
func (t tenancy) fill(w water, s *Sheet) (err error) {
	computed, err := t.computedFill(w)
	s.Fill = t.Cycle.Fill
	from := "measured"
	switch {
	case s.Fill == 0 && err != nil:
		return err
	case s.Fill == 0:
		s.Fill, from = computed, "computed from "+t.Supply.by()+", the hose and the lift"
	case err != nil:
		s.Doubts = append(s.Doubts, fmt.Sprintf("a fill of %s was measured, but by the figures here %v", quantity.Duration(s.Fill), err))
	case s.Fill > 2*computed || s.Fill < computed/2:
		s.Doubts = append(s.Doubts, fmt.Sprintf("a fill of %s was measured, but the figures here come to %s: look at the label's flow and head, the lift and the hose",
			quantity.Duration(s.Fill), quantity.Duration(computed)))
	}
	s.ToFull, s.ToCrest = t.water(t.full())+t.hose(), t.water(t.Standpipe.Crest)+t.hose()
	if s.Flow = t.Cycle.Flow; s.Flow == 0 {
		s.Flow = quantity.LitresPerHour(float64(s.ToFull) / s.Fill.Hours())
	}
	if s.Pumped, err = w.pumped(s.Flow); err != nil {
		return err
	}
	if err := t.end(w, s); err != nil {
		return err
	}
	if computed > 0 { // a pump that was timed slows down as its curve does
		s.EndFlow *= s.Flow * quantity.LitresPerHour(computed.Hours()) / quantity.LitresPerHour(s.ToFull)
	}
	s.because("flow", "while the table fills")
	s.because("T_fill", "%s: %s up to %s, with %s in the hose, at %s", from,
		t.Units.Volume(t.water(t.full())), t.Units.Mark(t.full()), t.Units.Volume(t.hose()), t.Units.Flow(s.Flow))
	return nil
}

// end finds how far the level of the reservoir has fallen at the end of a fill from
// the mark, and what the pump still brings then. A fill that was measured is more than
// a reservoir whose shape is assumed.
func (t tenancy) end(w water, s *Sheet) error {
	down, known := t.Drawdown(s.ToFull)
	s.Drawdown, s.SurfaceKnown = down, known
	lifted := t.Supply.Lift + down + t.full()
	flow, err := w.drawn(down).rising(t.full())
	if err != nil {
		return err
	}
	s.EndFlow = max(0, flow)
	of := fmt.Sprintf("%s leave a surface of %s", t.Units.Volume(s.ToFull), t.Units.Area(t.Surface))
	if !known {
		of = fmt.Sprintf("%s leave a reservoir taken to be %s deep, as its inside is not given", t.Units.Volume(s.ToFull), t.Units.Head(AssumedDepth))
	}
	s.because("drawdown", "%s", of)
	s.because("end of fill", "lifted %s by then, of the %s that the pump lifts at most", t.Units.Head(lifted), t.Units.Head(t.Supply.MaxHead))
	if lifted < t.Supply.MaxHead {
		return nil
	}
	said := fmt.Sprintf("the pump lifts %s, and at the end of a fill the water is lifted %s, since the level in the reservoir falls %s (%s)",
		t.Units.Head(t.Supply.MaxHead), t.Units.Head(lifted), t.Units.Depth(down), of)
	if t.Cycle.Fill > 0 && !known {
		s.Doubts = append(s.Doubts, fmt.Sprintf("a fill of %s was measured, but by the figures here %s: give the inside of the reservoir, or look at lift and pump", quantity.Duration(t.Cycle.Fill), said))
		return nil
	}
	return fmt.Errorf("%s: choose a pump with more head, lower the table, or have a wider reservoir", said)
}

func (t tenancy) computedFill(w water) (time.Duration, error) {
	rise, err := t.between(0, t.full(), t.rising(w))
	if err != nil {
		return 0, t.cannotFill(w, err)
	}
	first, err := w.supply.Flow(0)
	if err != nil {
		return 0, err
	}
	return rise + at(flowFrom(first), t.hose()), nil
}

func (t tenancy) cannotFill(w water, err error) error {
	stuck, is := errors.AsType[stuckError](err)
	if !is {
		return err
	}
	down, known := t.Drawdown(t.water(stuck.depth) + t.hose())
	if !known {
		down = 0
	}
	if in, err := w.drawn(down).supply.Flow(hydraulics.Metres(stuck.depth)); err == nil && in > 0 {
		return fmt.Errorf("the open drain takes all that the pump brings at a depth of %s: fit a narrower drain or a larger pump", t.Units.Depth(stuck.depth))
	}
	if down > 0 {
		return fmt.Errorf("the pump lifts %s, and the water stops at %s, since the level in the reservoir falls %s by then: choose a pump with more head, lower the table, or have a wider reservoir",
			t.Units.Head(t.Supply.MaxHead), t.Units.Depth(stuck.depth), t.Units.Depth(down))
	}
	return fmt.Errorf("the pump lifts %s and the table needs %s: choose a pump with more max_head or lower the table",
		t.Units.Head(t.Supply.MaxHead), t.Units.Head(t.Supply.Lift+t.full()))
}

// stand finds how high a flood stands and how much water it takes.
func (t tenancy) stand(w water, s *Sheet) (err error) {
	if s.OverflowHead, err = w.overflowHead(s.Pumped); err != nil {
		return err
	}
	peak := t.peak(s)
	if peak >= t.Table.Rim {
		return fmt.Errorf("the standpipe needs %s above its crest to carry %s, and the rim is %s above it: fit a wider standpipe or a smaller pump",
			t.Units.Depth(s.OverflowHead), t.Units.Flow(s.Pumped), t.Units.Mark(t.Table.Rim-t.Standpipe.Crest))
	}
	s.Drunk = t.drink()
	s.VFlood = t.water(peak) + s.Drunk + t.hose()
	s.LoadPerSquareMetre = float64(peak) * 1000
	s.PotsPerSquareMetre = t.heaviest() / float64(t.area())
	s.because("overflow head", "a standpipe of %s carries %s with %s over its crest", t.Units.Mark(t.Standpipe.Bore), t.Units.Flow(s.Pumped), t.Units.Depth(s.OverflowHead))
	s.because("V_flood", "%s up to %s, less %s that the pots displace, is %s; they drink up to %s and the hose holds %s",
		t.Units.Area(t.area()), t.Units.Depth(peak), t.Units.Volume(t.displaced(peak)), t.Units.Volume(t.water(peak)), t.Units.Volume(s.Drunk), t.Units.Volume(t.hose()))
	s.because("load", "%s of water weigh %s; up to the rim it would be %s", t.Units.Depth(peak), t.Units.Load(s.LoadPerSquareMetre), t.Units.Load(float64(t.Table.Rim)*1000))
	s.because("pots' load", "pots that have just drunk weigh so much beside the water, plants left out: the bench has to carry both")
	return nil
}

// peak is the depth of a flood during its hold.
func (t tenancy) peak(s *Sheet) quantity.Metres { return t.Standpipe.Crest + s.OverflowHead }

// fall finds T_fall and T_drain.
func (t tenancy) fall(w water, s *Sheet) (err error) {
	for _, f := range []struct {
		of       string
		found    *time.Duration
		measured time.Duration
		to       quantity.Metres
	}{
		{"T_fall", &s.Fall, t.Cycle.Fall, t.full()},
		{"T_drain", &s.Drain, t.Cycle.Drain, bare},
	} {
		if *f.found = f.measured; f.measured > 0 {
			s.because(f.of, "measured: from %s down to %s", t.Units.Depth(t.peak(s)), t.Units.Mark(f.to))
			continue
		}
		if *f.found, err = t.between(t.peak(s), f.to, w.falling); err != nil {
			return fmt.Errorf("the table does not drain: %w; fit a drain", err)
		}
		s.because(f.of, "computed: from %s down to %s, %s", t.Units.Depth(t.peak(s)), t.Units.Mark(f.to), t.way())
	}
	return nil
}

// spill finds T_over and whether the reservoir could overfill the table.
func (t tenancy) spill(s *Sheet) {
	room := t.water(t.Table.Rim) - t.water(t.Standpipe.Crest)
	s.Over = at(s.Pumped, room)
	s.because("T_over", "%s fit between crest and rim; with the standpipe blocked the pump brings them in %s", t.Units.Volume(room), quantity.Duration(s.Over))

	s.ToRim = t.water(t.Table.Rim)
	s.CanOverfill = t.Usable > s.ToRim
	verdict := "no fault of pump, switch or program can overfill it"
	if s.CanOverfill {
		verdict = fmt.Sprintf("it can overflow; with no more than %s in the reservoir it could not", t.Units.Most(s.ToRim))
	}
	s.because("overfill", "the reservoir holds %s and the table %s to the rim: %s", t.Units.Volume(t.Usable), t.Units.Volume(s.ToRim), verdict)
}

// at is how long flow takes to bring volume.
func at(flow quantity.LitresPerHour, volume quantity.Litres) time.Duration {
	return time.Duration(float64(volume) / float64(flow) * float64(time.Hour))
}

// way is that of the water home, in words.
func (b Bench) way() string {
	if b.Drain.ThroughPump {
		return "back through the idle pump"
	}
	return "through a drain of " + b.Units.Mark(b.Drain.Bore)
}
