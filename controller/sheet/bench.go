package sheet

import (
	"math"
	"time"

	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
)

// Table is the tray that the pots stand in.
type Table struct {
	Length, Width quantity.Metres
	Rim           quantity.Metres // height above the floor of the table
}

// Standpipe is the overflow that sets the depth of a flood.
type Standpipe struct {
	Crest quantity.Metres // height above the floor of the table
	Bore  quantity.Metres
}

// Supply is the pump and its hose.
type Supply struct {
	Bore, Length quantity.Metres
	Lift         quantity.Metres        // from the water of the reservoir to the floor of the table
	MaxHead      quantity.Metres        // of the pump's label, at no flow
	MaxFlow      quantity.LitresPerHour // of the pump's label, at no head
	Curve        []CurvePoint           // of the pump's data sheet, in place of both; see hydraulics.Curve
}

// CurvePoint is a point of a pump's curve.
type CurvePoint struct {
	Head quantity.Metres
	Flow quantity.LitresPerHour
}

// Pump is the pump by its data sheet, or else by its label.
func (s *Supply) Pump() (hydraulics.Pump, error) {
	if len(s.Curve) == 0 {
		return hydraulics.Nameplate(hydraulics.Metres(s.MaxHead), flowSI(s.MaxFlow))
	}
	var points []hydraulics.PumpPoint
	for _, p := range s.Curve {
		points = append(points, hydraulics.PumpPoint{Flow: flowSI(p.Flow), Head: hydraulics.Metres(p.Head)})
	}
	return hydraulics.Curve(points...)
}

// by says what the pump is known by.
func (s *Supply) by() string {
	if len(s.Curve) > 0 {
		return "the pump's curve"
	}
	return "the pump's label"
}

// Drain is the way of the water home: back through the idle pump, or through a
// fitting in the floor of the table. A normally open valve on the pump's
// circuit shuts the fitting while the pump runs, unless it is always open.
type Drain struct {
	ThroughPump  bool
	Always       bool            // the fitting has no valve: it takes its share while the table fills
	Bore, Length quantity.Metres // of the fitting
}

// Cycle is what was measured on the bench; zero for what was not. It replaces
// what would be computed.
type Cycle struct {
	Fill  time.Duration // pump start to FULL made
	Fall  time.Duration // pump stop to FULL clear
	Drain time.Duration // pump stop to bare table

	Flow quantity.LitresPerHour // while filling
	Free quantity.Fraction      // the free area over that which table and pots come to
}

func (c Cycle) timed() bool { return c.Fill+c.Fall+c.Drain > 0 }

// Pots are a number of equal round pots.
type Pots struct {
	Count    int
	Top      quantity.Metres   // outer diameter at the rim
	Volume   quantity.Litres   // of one, filled to the rim
	Capacity quantity.Fraction // of Volume: water that the substrate holds after draining
}

// taper is the diameter of a pot's base over that of its rim (common practice,
// no source).
const taper = 0.7

// Known reports whether count, size and volume are all given.
func (p Pots) Known() bool { return p.Count > 0 && p.Top > 0 && p.Volume > 0 }

// Height follows from volume and diameters, as of a cone cut short.
func (p Pots) Height() quantity.Metres {
	top := float64(p.Top)
	return quantity.Metres(float64(p.Volume) / 1000 * 12 / (math.Pi * top * top * (1 + taper + taper*taper)))
}

// displaced is what the pots keep out of water of this depth.
func (p Pots) displaced(depth quantity.Metres) quantity.Litres {
	height := p.Height()
	if depth >= height {
		return quantity.Litres(p.Count) * p.Volume
	}
	base := taper * float64(p.Top)
	wet := base + (float64(p.Top)-base)*float64(depth/height)
	cone := math.Pi / 12 * float64(depth) * (wet*wet + wet*base + base*base)
	return quantity.Litres(float64(p.Count) * cone * 1000)
}

// dryBulk is what a litre of dry substrate weighs with its share of the pot, in
// kilograms: of the light ones, peat and rockwool (common practice, no source).
const dryBulk = 0.1

// Weighs is what a litre of pot weighs, in kilograms, that has lost this share of its
// container capacity.
func (p Pots) Weighs(lost float64) float64 { return dryBulk + float64(p.Capacity)*(1-lost) }

// Lifts is what the water of a depth lifts of a pot, in kilograms for each litre of pot.
func (p Pots) Lifts(depth quantity.Metres) float64 {
	return float64(p.displaced(depth)) / float64(p.Count) / float64(p.Volume)
}

// Driest is the share of container capacity that pots have lost when a flood
// is well overdue: half of it is easily available to plants (common practice,
// no source).
const Driest = 0.5

// drink is the most that the pots take up in one flood.
func (p Pots) drink() quantity.Litres {
	return quantity.Litres(float64(p.Count) * float64(p.Volume) * float64(p.Capacity) * Driest)
}

// heaviest is what the pots weigh together when they have just drunk, in kilograms.
func (t tenancy) heaviest() (sum float64) {
	for _, p := range t.pots {
		sum += float64(p.Count) * float64(p.Volume) * p.Weighs(0)
	}
	return sum
}

// ground is what the pots cover at their rims.
func (p Pots) ground() quantity.SquareMetres {
	return quantity.SquareMetres(float64(p.Count) * math.Pi / 4 * float64(p.Top*p.Top))
}

// Bench is what a sheet is made from. Lengths are above zero; Full is 0
// where the switch is not fitted.
type Bench struct {
	Table     Table
	Standpipe Standpipe
	Supply    Supply
	Drain     Drain
	Cycle     Cycle
	Full      quantity.Metres // height of the FULL switch
	Usable    quantity.Litres // in the reservoir, filled as high as it ever is

	// Surface is the plan area of the reservoir. Where it is 0, fills are worked out
	// as if its level stayed, and whether the pump still lifts at their end as if it
	// were AssumedDepth deep.
	Surface quantity.SquareMetres

	// Tenants are the sets of pots that stand on the table at one time or
	// another; none means an empty table. Each limit is that of the set that
	// makes it strictest.
	Tenants [][]Pots

	Units quantity.Units // in which the sheet says where its figures come from
}

// AssumedDepth is how deep the water of a full reservoir is taken to be where nobody
// says how large it is: those that stand under benches are flat (common practice, no
// source).
const AssumedDepth quantity.Metres = 0.4

// Drawdown is how far the level of a reservoir falls when so much leaves it; known
// says that its surface is.
func (b *Bench) Drawdown(out quantity.Litres) (down quantity.Metres, known bool) {
	if b.Surface > 0 {
		return quantity.Metres(float64(out) / 1000 / float64(b.Surface)), true
	}
	return quantity.Metres(float64(out/b.Usable)) * AssumedDepth, false
}

func (b Bench) area() quantity.SquareMetres {
	return quantity.SquareMetres(b.Table.Length * b.Table.Width)
}

// full is the height at which a fill ends: FULL, or the crest without it.
func (b Bench) full() quantity.Metres {
	if b.Full > 0 {
		return b.Full
	}
	return b.Standpipe.Crest
}

// hose is the volume that stands in the supply pipe.
func (b Bench) hose() quantity.Litres {
	bore := float64(b.Supply.Bore)
	return quantity.Litres(math.Pi / 4 * bore * bore * float64(b.Supply.Length) * 1000)
}

// tenancy is the bench with one set of pots on it.
type tenancy struct {
	Bench
	pots      []Pots
	displaces float64         // times what the pots come to
	layers    int             // into which a change of depth is cut up
	clears    quantity.Metres // how far below its make FULL clears, where floods are taken apart
}

func (b Bench) under(pots []Pots) tenancy {
	return tenancy{Bench: b, pots: pots, displaces: 1, layers: layers}
}

func (t tenancy) displaced(depth quantity.Metres) (sum quantity.Litres) {
	for _, p := range t.pots {
		sum += p.displaced(depth)
	}
	return sum * quantity.Litres(t.displaces)
}

func (t tenancy) drink() (sum quantity.Litres) {
	for _, p := range t.pots {
		sum += p.drink()
	}
	return sum
}

// water is what stands on the table at this depth.
func (t tenancy) water(depth quantity.Metres) quantity.Litres {
	computed := quantity.Litres(float64(t.area())*float64(depth)*1000) - t.displaced(depth)
	if t.Cycle.Free > 0 {
		return quantity.Litres(t.Cycle.Free) * computed
	}
	return computed
}
