package sheet

import (
	"slices"
	"time"

	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
)

// Spans are the two values between which a figure lies on nine in ten of the benches
// that are as their file says, by the key of the figure in JSON and in its unit: one
// bench in twenty lies below and one above.
type Spans map[string][2]float64

// Low is the lower end of a span of seconds; 0 where there is none.
func (s Spans) Low(key string) time.Duration { return seconds(s[key][0]) }

// High is the upper end of a span of seconds; 0 where there is none.
func (s Spans) High(key string) time.Duration { return seconds(s[key][1]) }

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

const (
	// tail is the share of benches on either side of a span.
	tail = 0.05

	// coarse is how finely a change of depth is cut up for one of many benches; four
	// times as many layers change a time by less than one part in a hundred.
	coarse = 10
)

// spans finds the spans of s: many benches are drawn that are as the file says within
// what it cannot tell, see inputs, and the figures of each are worked out (JCGM
// 101:2008, propagation of distributions). A time that was measured has in it whatever
// stays with a bench: beside it only what changes from flood to flood is drawn.
//
// Weak is the share of benches of which the water does not reach FULL. Where it is half,
// there are no spans.
func (t tenancy) spans(w water, s *Sheet) (spans Spans, weak float64) {
	w.supply.Hose = w.supply.Hose.Held(flowSI(s.Pumped), w.supply.Viscosity)
	t.layers = coarse
	timed, _ := t.live(w, asTimed)
	var all []lived
	for _, d := range drawn {
		one, ok := t.live(w, d)
		if t.Cycle.timed() {
			beside, _ := t.live(w, d.passing())
			ok = one.timed(t.Cycle, beside, timed)
		}
		if ok {
			all = append(all, one)
		}
	}
	weak = 1 - float64(len(all))/draws
	if weak >= 0.5 {
		return nil, weak
	}
	spans = Spans{}
	for key, of := range spanned {
		values := make([]float64, len(all))
		for i := range all {
			values[i] = of(s, &all[i])
		}
		spans[key] = ends(values)
	}
	return spans, weak
}

// ends are the values that tail of all lie below, and tail above.
func ends(values []float64) [2]float64 {
	slices.Sort(values)
	at := func(share float64) float64 {
		place := share*float64(len(values)) - 0.5
		k := min(max(int(place), 0), len(values)-2)
		return values[k] + (place-float64(k))*(values[k+1]-values[k])
	}
	return [2]float64{at(tail), at(1 - tail)}
}

// spanned are the figures that have a span, by their key.
var spanned = map[string]func(*Sheet, *lived) float64{
	"t_fill_s":         func(_ *Sheet, l *lived) float64 { return l.fill },
	"t_fall_s":         func(_ *Sheet, l *lived) float64 { return l.fall },
	"t_drain_s":        func(_ *Sheet, l *lived) float64 { return l.drain },
	"t_over_s":         func(s *Sheet, l *lived) float64 { return s.Over.Seconds() * float64(s.Pumped/l.pumped) * l.room },
	"flow_l_per_h":     func(_ *Sheet, l *lived) float64 { return float64(l.flow) },
	"end_flow_l_per_h": func(_ *Sheet, l *lived) float64 { return float64(l.end) },
	"overflow_head_mm": func(_ *Sheet, l *lived) float64 { return 1000 * float64(l.peak-l.Standpipe.Crest) },
	"rim_margin_mm":    func(_ *Sheet, l *lived) float64 { return 1000 * float64(l.Table.Rim-l.peak) },
	"v_flood_l":        func(_ *Sheet, l *lived) float64 { return float64(l.flood) },
	"reservoir_left_l": func(_ *Sheet, l *lived) float64 { return float64(l.Usable - l.flood) },
	"drawdown_mm":      func(_ *Sheet, l *lived) float64 { return 1000 * float64(l.down) },
	"load_kg_per_m2":   func(_ *Sheet, l *lived) float64 { return 1000 * float64(l.peak) },
}

// lived is one drawn bench and what a flood of it comes to; times in seconds.
type lived struct {
	tenancy
	water water
	drawn draw

	fill, fall, drain float64
	seen              float64                // the time until the table is bare, over that until people called it so
	flow, end, pumped quantity.LitresPerHour // while filling, as FULL is made, and over the standpipe
	toFull, flood     quantity.Litres        // what the pots drink included
	fades             quantity.LitresPerHour // what the pump brings to the crest, over that to FULL
	peak, down        quantity.Metres
	room              float64 // between crest and rim, over that of the sheet
}

// live is the bench as drawn; false where the water does not reach FULL.
func (t tenancy) live(w water, d draw) (l lived, ok bool) {
	l = lived{tenancy: t.as(d), drawn: d}
	l.room = d[area] * float64((t.Table.Rim-l.Standpipe.Crest)/(t.Table.Rim-t.Standpipe.Crest))
	pump, err := t.Supply.within(d)
	if err != nil {
		return l, false
	}
	l.water = w.as(d, pump, l.Supply.Lift)
	return l, l.rise() && l.stand()
}

// as is the bench as drawn.
func (t tenancy) as(d draw) tenancy {
	if t.Cycle.Free == 0 {
		t.Table.Length *= quantity.Metres(d[area])
		t.displaces = d[wet]
	} else { // litres by the tank, over a depth by a rule: what pots displace is in it
		t.Cycle.Free *= quantity.Fraction(d[marks]) * quantity.Fraction(1+d[stands]/float64(t.Standpipe.Crest))
	}
	t.Standpipe.Crest += quantity.Metres(d[crestAt])
	if t.Full > 0 {
		t.Full += quantity.Metres(d[madeAt])
	}
	if t.Surface == 0 {
		t.Surface = quantity.SquareMetres(float64(t.Usable) / 1000 / d[inside])
	}
	below, _ := t.Drawdown(quantity.Litres(d[level]) * t.Usable)
	t.Supply.Lift += quantity.Metres(d[tape]) + below
	return t
}

// within is the pump as drawn.
func (s *Supply) within(d draw) (hydraulics.Pump, error) {
	if len(s.Curve) == 0 {
		return hydraulics.Between(hydraulics.Metres(float64(s.MaxHead)*d[headOfPump]), flowSI(s.MaxFlow*quantity.LitresPerHour(d[flowOfPump])), d[straightness])
	}
	other := Supply{Curve: slices.Clone(s.Curve)}
	for i := range other.Curve {
		other.Curve[i].Head *= quantity.Metres(d[headOfPump])
		other.Curve[i].Flow *= quantity.LitresPerHour(d[flowOfPump])
	}
	return other.Pump()
}

// as are the parts as drawn.
func (w water) as(d draw, pump hydraulics.Pump, lift quantity.Metres) water {
	w.supply.Pump, w.supply.Lift = pump, hydraulics.Metres(lift)
	w.supply.Hose.Minor = d[fittings]
	w.supply.Hose.Friction *= d[wall]
	w.carries, w.drains = d[overCrest], d[mouth]
	if back, through := w.drain.(hydraulics.BackThroughPump); through {
		back.Supply, back.Idle = w.supply, d[idle]
		w.drain = back
	}
	return w
}

// rise fills the table.
func (l *lived) rise() bool {
	up, err := l.between(0, l.full(), l.rising(l.water))
	if err != nil {
		return false
	}
	first, err := l.water.supply.Flow(0)
	if err != nil || first == 0 {
		return false
	}
	bare := l.tenancy.water(l.full()) + l.hose()
	l.toFull = bare + quantity.Litres(l.drawn[soon])*l.drunk()
	l.fill = (up + at(flowFrom(first), l.hose())).Seconds() * float64(l.toFull/bare) * l.drawn[scatter]
	l.flow = quantity.LitresPerHour(float64(l.toFull) / l.fill * 3600)
	l.down, _ = l.Drawdown(l.toFull)
	if l.end, err = l.water.drawn(l.down).rising(l.full()); err != nil || l.end <= 0 {
		return false
	}
	further, _ := l.Drawdown(l.tenancy.water(l.Standpipe.Crest) + l.hose() + l.drunk())
	top, err := l.water.drawn(further).rising(l.Standpipe.Crest)
	l.fades = max(top/l.end, faintest)
	return err == nil
}

// mostDrunk is the least that a fall counts as taking, beside that between pots which
// drink nothing.
const mostDrunk = 0.5

// faintest is the least that a pump counts as bringing to the crest, over that to FULL.
const faintest = 0.1

// drunk is what the pots take up in this flood.
func (l *lived) drunk() quantity.Litres {
	return l.drink() * quantity.Litres(l.drawn[thirst]*l.drawn[taken])
}

// stand lets the flood stand and fall.
func (l *lived) stand() (ok bool) {
	var err error
	if l.pumped, err = l.water.pumped(l.end * l.fades); err != nil {
		return false
	}
	head, err := l.water.overflowHead(l.pumped)
	if err != nil || l.Standpipe.Crest+head <= l.full() {
		return false
	}
	l.peak = l.Standpipe.Crest + head
	l.flood = l.tenancy.water(l.peak) + l.hose() + l.drunk()
	dry, empty := l.full(), bare
	if l.Cycle.Drain > 0 { // as somebody saw it
		empty = quantity.Metres(l.drawn[film])
	}
	if l.Full > 0 {
		dry = max(dry-quantity.Metres(l.drawn[clearsBelow]), empty)
	}
	fall, err := l.between(l.peak, dry, l.water.falling)
	if err != nil {
		return false
	}
	drain, err := l.between(l.peak, empty, l.water.falling)
	if err != nil {
		return false
	}
	toBare, err := l.between(l.peak, bare, l.water.falling)
	l.seen = float64(toBare) / float64(drain)
	drinking := 1 - l.drawn[late]*float64(l.drunk()/(l.tenancy.water(l.peak)-l.tenancy.water(dry)))
	l.fall, l.drain = fall.Seconds()*l.drawn[scatter]*max(drinking, mostDrunk), drain.Seconds()*l.drawn[scatter]
	return err == nil
}

// timed puts what was measured in the place of what was drawn, times how much a flood
// with what changes differs from the then one.
func (l *lived) timed(c Cycle, beside, then lived) bool {
	measured := func(is time.Duration, of func(*lived) float64) float64 {
		ratio := l.drawn[scatter]
		if of(&then) > 0 && of(&beside) > 0 {
			ratio = of(&beside) / of(&then)
		}
		return (is.Seconds() + l.drawn[watch]) * ratio
	}
	if c.Fill > 0 {
		slows := quantity.LitresPerHour(1)
		if l.flow > 0 && l.end > 0 {
			slows = l.end / l.flow
		}
		l.fill = measured(c.Fill, func(l *lived) float64 { return l.fill })
		bare := l.tenancy.water(l.full()) + l.hose()
		l.toFull = bare + quantity.Litres(l.drawn[soon])*l.drunk()
		l.flow = quantity.LitresPerHour(float64(l.toFull) / l.fill * 3600)
		if c.Flow > 0 { // it rests on the litres up to where FULL was taken to be
			l.flow = c.Flow * quantity.LitresPerHour(c.Fill.Seconds()/l.fill*float64(l.toFull/then.toFull))
		}
		l.end = l.flow * slows
		l.down, _ = l.Drawdown(l.toFull)
	}
	if l.end*l.fades <= 0 || !l.stand() {
		return false
	}
	if c.Fall > 0 {
		l.fall = measured(c.Fall, func(l *lived) float64 { return l.fall })
	}
	if c.Drain > 0 {
		l.drain = measured(c.Drain, func(l *lived) float64 { return l.drain * l.seen * l.seen }) // from when people called it bare to when it is
	}
	return true
}
