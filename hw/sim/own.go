package sim

import (
	"math"
	"time"

	"benchtide/hw/hydraulics"
	"benchtide/hw/sim/nature"
	"benchtide/safety"
	"benchtide/schedule/demand"
)

// drawn makes a reservoir of the file the one that nature has. The litres at its
// marks are off together, as they are where a tank was measured and not filled.
func (r *Reservoir) drawn(d nature.Draws, i int) {
	mark := safety.Litres(d.Of("tank.mark", i))
	r.Usable *= mark
	r.LowAt *= mark
	r.LevelAt *= mark
	for n, band := range []*hydraulics.Metres{&r.LowBand, &r.LevelBand} {
		if *band == 0 {
			*band = millimetres(d.Of("float.band", switches*lots+2*i+n))
		}
	}
}

// lots is more than a site has of anything, so that figures of two kinds of
// things have numbers of their own.
const lots = 1 << 16

// drawn makes a bench of the file the one that nature has.
func (b *Bench) drawn(d nature.Draws, i int) {
	b.Length *= hydraulics.Metres(d.Of("table.size", i))
	s := &b.Supply
	head, flow := hydraulics.Metres(d.Of("pump.head", i)), hydraulics.CubicMetresPerSecond(d.Of("pump.flow", i))
	s.MaxHead *= head
	s.MaxFlow *= flow
	for n := range s.Curve.N { // a pump of its kind keeps to its data sheet as to its label
		s.Curve.Points[n].Head *= head
		s.Curve.Points[n].Flow *= flow
	}
	s.Straight = d.Of("pump.straight", i)
	more := d.Of("hose.resistance", i)
	s.Minor *= more
	s.Length *= hydraulics.Metres(more)
	for n, f := range []*Float{full: &b.Full, high: &b.High, empty: &b.Empty} {
		f.drawn(d, i*switches+n)
	}
}

// least is how high over the floor of a table a float is clear at the latest.
const least hydraulics.Metres = 0.0005

// drawn moves a float by what was measured wrong, and gives it a band that it can
// come back from.
func (f *Float) drawn(d nature.Draws, n int) {
	if !f.Fitted {
		return
	}
	off, wide := millimetres(d.Of("float.at", n)), millimetres(d.Of("float.band", n))
	if off != 0 {
		f.At = max(2*least, f.At+off)
	}
	if f.Band == 0 {
		f.Band = min(wide, max(least, f.At-least))
	}
}

func millimetres(mm float64) hydraulics.Metres { return hydraulics.Metres(mm / 1000) }

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// own is what nature drew of a bench beside the figures of its parts.
type own struct {
	draws       nature.Draws
	bench       int
	spill, home float64       // what a standpipe and the way home take, of what they take by formula
	tilt        float64       // m by which the end with the floats stands higher than the middle
	air         time.Duration // that the pump turns before the hose is full
}

func (w *World) ownOf(i int) own {
	d := w.cfg.Nature.Draw(w.cfg.Seed)
	return own{
		draws: d, bench: i, spill: d.Of("standpipe.flow", i), home: d.Of("drain.flow", i),
		tilt: d.Of("table.tilt", i) / 1000, air: time.Duration(d.Of("pump.air", i) * float64(time.Second)),
	}
}

// of is a plumbing as it is here.
func (o *own) of(p plumbing) plumbing {
	p.weir, p.drowned, p.mouth = p.weir*o.spill, p.drowned*o.spill, p.mouth*o.home
	if o.home != 1 {
		squares := make([]float64, len(p.back.squares)) // those of p may be others' too
		for i, q := range p.back.squares {
			squares[i] = q * o.home * o.home
		}
		p.back.squares = squares
	}
	return p
}

// run is what one run of a pump draws.
type run struct {
	speed float64           // times the flow of the bench's usual run
	late  [switches]float64 // m by which a float that sticks comes late
}

// ofRun draws for the run of that number.
func (o *own) ofRun(n int) run {
	r := run{speed: 1}
	if wide := o.draws.Of("pump.scatter", o.bench); wide > 0 {
		r.speed += wide * (2*o.draws.Rank("a run", o.bench*lots+n) - 1) * math.Sqrt(3)
	}
	for k := full; k <= empty; k++ {
		float := o.bench*switches + k
		if often := o.draws.Of("float.sticks", float); often > 0 && o.draws.Rank("a float", float*lots+n) < often {
			r.late[k] = o.draws.Of("float.stuck", float*lots+n) / 1000
		}
	}
	return r
}

// growth is how leaves close over the table, where nature has its own: as a
// logistic curve. Its zero value leaves that to the crop.
type growth struct {
	bare, full float64 // crop factors
	half, pace float64 // days
}

func growthOf(d nature.Draws, i int) growth {
	return growth{d.Of("plants.bare", i), d.Of("plants.full", i), d.Of("plants.half", i), d.Of("plants.pace", i)}
}

// factor is the crop's at an age in days.
func (g growth) factor(crop demand.Crop, age int) float64 {
	if g.full == 0 || g.pace == 0 {
		return crop.Factor(age)
	}
	return g.bare + (g.full-g.bare)/(1+math.Exp((g.half-float64(age))/g.pace))
}
