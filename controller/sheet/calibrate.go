package sheet

import (
	"errors"
	"fmt"
	"math"
	"time"

	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
)

// Timed is one flood that was timed with care on the bench, its pots wet from
// a flood shortly before. Litres are what a person read; 0 for what nobody did.
type Timed struct {
	Fill  time.Duration // pump start to FULL made, or to the crest without FULL; above 0
	Fall  time.Duration // pump stop to FULL clear; 0 when not timed
	Drain time.Duration // pump stop to bare table; 0 when not timed

	Lifted quantity.Litres // by a meter, pump start to FULL
	Drawn  quantity.Litres // missing from the reservoir while the flood stands over the crest
	Settle quantity.Metres // how high it stands then; 0 where nobody measured it, and it follows from the flow

	// Drawdown is how far the reservoir's surface is down then. It adds to the
	// height from which water runs back through the pump.
	Drawdown quantity.Metres
}

// Estimate is one figure of the bench and how far apart the floods put it.
type Estimate struct {
	Value  float64
	Spread quantity.Fraction // the largest deviation from Value, or how finely it could be read, over Value
	Give   quantity.Fraction // 19 in 20 lie so near to Value, over it; see gum.go
}

// Calibration is what timed floods say of a bench.
type Calibration struct {
	Cycle Cycle    // what replaces the computed figures
	Flow  Estimate // L/h that the pump brings while filling
	Free  Estimate // m² of water that rise with the depth: table less pots
	Home  Estimate // drain coefficient: the flow home over that which the figures give

	Assumed []string // what the floods could not say, in words
}

const (
	// tooWide is the spread from which floods are no calibration.
	tooWide quantity.Fraction = 0.10

	// clearing is how far below its make a float clears: the middle of what small
	// float switches do (from memory; see inputs).
	clearing quantity.Metres = 0.005

	// Readings are no finer than a thumb on a stop watch and a line on a tank.
	watchReads = time.Second
	tankReads  = quantity.Litres(1)
)

// Calibrate finds the actual flow, effective free area and drain coefficient
// of b from one or more timed floods. Its Tenants are the pots that stand on
// the table now: one set, or none. Without litres the free area is taken to be
// that of the file; without Fall and Drain so is the drain.
//
// The error says what to do when a figure cannot be found, or when the floods
// differ by more than a tenth.
func Calibrate(b Bench, floods []Timed) (Calibration, error) {
	if len(floods) == 0 {
		return Calibration{}, errors.New("calibrate: no flood was timed: time one at least, better three")
	}
	tenants := b.tenancies()
	if len(tenants) > 1 {
		return Calibration{}, fmt.Errorf("calibrate: %d sets of pots are given: give the one that stands on the table now", len(tenants))
	}
	t := tenants[0]
	t.Cycle, t.clears = Cycle{}, clearing
	w, err := b.water()
	if err != nil {
		return Calibration{}, fmt.Errorf("calibrate: %w", err)
	}
	found, err := t.each(w, floods)
	if err != nil {
		return Calibration{}, err
	}
	c := t.pool(floods, found)
	t.give(w, floods, found, &c)
	return c, c.tight()
}

// each takes the floods with litres first: the others rest on their area.
func (t tenancy) each(w water, floods []Timed) (found []single, err error) {
	var shares []float64
	for _, withLitres := range []bool{true, false} {
		share := 1.0
		if len(shares) > 0 {
			share = mean(shares)
		}
		for i, f := range floods {
			if (f.Lifted > 0 || f.Drawn > 0) != withLitres {
				continue
			}
			s, err := t.estimate(w, f, share)
			if err != nil {
				return nil, fmt.Errorf("calibrate: flood %d of %d: %w", i+1, len(floods), err)
			}
			found = append(found, s)
			if withLitres {
				shares = append(shares, s.share)
			}
		}
	}
	return found, nil
}

// single is what one flood says; home is 0 when it says nothing of the drain.
type single struct {
	flow, share, home float64
	measured          bool // share comes from its own litres
}

// estimate takes flow and area apart by the litres: those in the fill give both
// at once; those drawn for the whole flood stand up to a peak that was measured, or
// else depends on the flow, so that the two are found in turns. Without litres share stands.
func (t tenancy) estimate(w water, f Timed, share float64) (single, error) {
	if f.Fill <= 0 || f.Fall < 0 || f.Drain < 0 || f.Lifted < 0 || f.Drawn < 0 || f.Drawdown < 0 {
		return single{}, fmt.Errorf("fill %s, fall %s, drain %s, %s lifted, %s drawn, %s down: nothing of it can be below zero, and the fill has to be timed",
			quantity.Duration(f.Fill), quantity.Duration(f.Fall), quantity.Duration(f.Drain), t.Units.Volume(f.Lifted), t.Units.Volume(f.Drawn), t.Units.Depth(f.Drawdown))
	}
	s := single{share: share}
	if f.Lifted > 0 {
		s.share, s.measured = float64((f.Lifted-t.hose())/t.water(t.full())), true
	}
	peak := max(t.Standpipe.Crest, f.Settle)
	for range 8 {
		if f.Drawn > 0 && f.Lifted == 0 {
			s.share, s.measured = float64((f.Drawn-t.hose())/t.water(peak)), true
		}
		if !(s.share > 0) {
			return single{}, fmt.Errorf("%s are no flood: the hose alone holds %s; read the tank again", t.Units.Volume(max(f.Lifted, f.Drawn)), t.Units.Volume(t.hose()))
		}
		s.flow = (s.share*float64(t.water(t.full())) + float64(t.hose())) / f.Fill.Hours()
		if f.Settle > 0 {
			continue
		}
		head, err := w.overflowHead(quantity.LitresPerHour(s.flow))
		if err != nil {
			return single{}, err
		}
		peak = t.Standpipe.Crest + head
	}
	t.Cycle.Free = quantity.Fraction(s.share)
	home, err := t.home(w, f, peak)
	s.home = home
	return s, err
}

// home is the drain coefficient that explains the fall from peak, or without
// one the time to a bare table; 0 when neither was timed.
func (t tenancy) home(w water, f Timed, peak quantity.Metres) (float64, error) {
	timed, to := f.Fall, max(bare, t.full()-t.clears)
	if timed == 0 {
		timed, to = f.Drain, bare
	}
	if timed == 0 || to >= peak {
		return 0, nil
	}
	const least, most = 0.05, 20
	low, high := math.Log(least), math.Log(most)
	for range 24 {
		middle := (low + high) / 2
		takes, err := t.between(peak, to, func(depth quantity.Metres) (quantity.LitresPerHour, error) {
			down := f.Drawdown * quantity.Metres(t.water(depth)/t.water(peak))
			return w.lowered(down).fallingAt(math.Exp(middle))(depth)
		})
		if err != nil {
			return 0, fmt.Errorf("the table does not drain: %w", err)
		}
		if takes > timed {
			low = middle
		} else {
			high = middle
		}
	}
	k := math.Exp((low + high) / 2)
	if k < least*1.01 || k > most/1.01 {
		return 0, fmt.Errorf("no drain falls from %s to %s in %s: time it again, from pump stop", t.Units.Depth(peak), t.Units.Depth(to), quantity.Duration(timed))
	}
	return k, nil
}

// lowered is w with the reservoir's surface further down.
func (w water) lowered(by quantity.Metres) water {
	if back, ok := w.drain.(hydraulics.BackThroughPump); ok {
		back.Supply.Lift += hydraulics.Metres(by)
		w.drain = back
	}
	return w
}

// pool takes the mean of what the floods say: what would spoil it is refused
// for its spread.
func (t tenancy) pool(floods []Timed, found []single) Calibration {
	var c Calibration
	var flow, share, home []float64
	for _, s := range found {
		flow, share = append(flow, s.flow), append(share, s.share)
		if s.home > 0 {
			home = append(home, s.home)
		}
	}
	seconds := fineness(floods, func(f Timed) float64 { return float64(f.Fill) / float64(watchReads) })
	tank := fineness(floods, func(f Timed) float64 { return float64(max(f.Lifted, f.Drawn) / tankReads) })
	fall := fineness(floods, func(f Timed) float64 { return float64(max(f.Fall, f.Drain)) / float64(watchReads) })

	c.Flow = pooled(flow, seconds+tank)
	c.Free = pooled(share, tank)
	c.Cycle = Cycle{
		Fill: usual(floods, func(f Timed) time.Duration { return f.Fill }), Flow: quantity.LitresPerHour(c.Flow.Value),
		Fall:  usual(floods, func(f Timed) time.Duration { return f.Fall }),
		Drain: usual(floods, func(f Timed) time.Duration { return f.Drain }), Free: quantity.Fraction(c.Free.Value),
	}
	c.Free.Value *= t.rises()
	if !found[0].measured {
		c.Assumed = append(c.Assumed, "nobody read the tank: the free area is that of table and pots in the file, and the flow rests on it")
	}
	c.Home = Estimate{Value: 1}
	if len(home) > 0 {
		c.Home = pooled(home, fall)
	} else {
		c.Assumed = append(c.Assumed, "nobody timed the fall: the drain is that of the file")
	}
	return c
}

// fineness is how finely the coarsest reading could be read, over itself;
// readings of 0 were not taken.
func fineness(floods []Timed, steps func(Timed) float64) quantity.Fraction {
	var worst float64
	for _, f := range floods {
		if n := steps(f); n > 0 {
			worst = max(worst, 1/n)
		}
	}
	return quantity.Fraction(worst)
}

func pooled(values []float64, reads quantity.Fraction) Estimate {
	m := mean(values)
	e := Estimate{Value: m, Spread: reads}
	for _, v := range values {
		e.Spread = max(e.Spread, quantity.Fraction(math.Abs(v-m)/m))
	}
	return e
}

func mean(values []float64) (m float64) {
	for _, v := range values {
		m += v / float64(len(values))
	}
	return m
}

// usual is the mean of a time over the floods in which it was taken.
func usual(floods []Timed, of func(Timed) time.Duration) time.Duration {
	var taken []float64
	for _, f := range floods {
		if d := of(f); d > 0 {
			taken = append(taken, float64(d))
		}
	}
	return time.Duration(mean(taken))
}

// tight refuses floods that are too far apart to be one bench's.
func (c Calibration) tight() error {
	for _, e := range []struct {
		what, look string
		Estimate
	}{
		{"flow", "let the pump run free of air and refill the reservoir to the same mark", c.Flow},
		{"free area", "read the tank when the water stands still, tables empty before", c.Free},
		{"drain", "look for a leaf in the drain and time the fall from pump stop", c.Home},
	} {
		if e.Spread > tooWide {
			return fmt.Errorf("calibrate: the %s spreads by %.0f %%, and more than %.0f %% is no calibration: %s, and time three floods again",
				e.what, 100*e.Spread, 100*tooWide, e.look)
		}
	}
	return nil
}
