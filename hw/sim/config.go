package sim

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/hw/hydraulics"
	"benchtide/hw/sim/nature"
	"benchtide/safety"
	"benchtide/schedule/demand"
)

// Config is the truth of a simulated site. It belongs to the simulation alone:
// nothing that estimates may read it. Indices into the slices are the identity
// of outputs, reservoirs, benches and stirrers, as in safety.Limits.
type Config struct {
	Outputs    []Output
	Reservoirs []Reservoir
	Benches    []Bench
	Stirrers   []Stirrer
	HandsIn    bool // a hands-in button is fitted

	Start     time.Time     // wall time, UTC, when the world begins
	Uptime    time.Duration // boot-time clock when the world begins
	Untrusted bool          // wall time is not to be believed at first
	Seed      uint64
	Weather   Weather // nil means Normal days of Glasshouse

	// Lamps is what the light of lamps adds to Weather.Use, nil where there are none.
	Lamps func(from, to time.Duration) float64

	// Nature is what Seed draws the world's own figures from; nil is the plain bench,
	// just as it is written here.
	Nature *nature.Nature

	// Pipes, when not nil, is where the plumbing of a bench is looked up before
	// it is worked out, and kept.
	Pipes Pipes

	// KeepOnCrash: the outputs keep their level when the program dies, as on
	// an expander or with persistent lines. Otherwise they fall to off.
	KeepOnCrash bool
	// DeadMan, when above 0, is how long after the end of a Wait that a hang
	// has overrun the outputs are put off, as a dead-man beside the loop does.
	DeadMan time.Duration
}

// Output is one relay. Pumps with an Enable have that output's contact in series.
type Output struct {
	Name   string
	Kind   safety.OutputKind
	Enable int // index in Outputs; -1 without one
}

// Stirrer is a pump that only stirs its reservoir.
type Stirrer struct{ Output, Reservoir int }

// Reservoir stands below the tables. Litres are counted as the file does, with
// what covers the intake included.
type Reservoir struct {
	Name     string
	Usable   safety.Litres           // the fill mark, and the fill at the start
	Keep     safety.Litres           // covers the intake, which runs dry below half of this
	Capacity safety.Litres           // above this it runs over; 0 means 1.2 × Usable
	Area     hydraulics.SquareMetres // of its surface; 0 means the depth at Capacity that nature has, 0.4 m on the plain bench

	Low     Contact       // fitted, and how it is wired
	LowAt   safety.Litres // made from here up, clear LowBand lower
	Level   Contact       // a second float, which weighs
	LevelAt safety.Litres // made from here up, clear LevelBand lower

	LowBand, LevelBand hydraulics.Metres // 0 means 2 mm
	Thermometer        bool
	Evaporation        safety.Litres // a day
	Strength           float64       // of the first fill, mS/cm or any unit that mixes in proportion
}

// Contact says whether a switch is fitted and what water does to its contact.
// A broken wire reads as an open contact, a shorted one as closed.
type Contact struct {
	Fitted     bool
	WaterOpens bool
}

// Float is a switch at a height over the floor of the table. It is made from
// At up and clear Band lower.
type Float struct {
	Contact
	At   hydraulics.Metres
	Band hydraulics.Metres // 0 means 2 mm
}

// Supply is the hose and the pump.
type Supply struct {
	Bore, Length hydraulics.Metres
	Lift         hydraulics.Metres // floor of the table over the reservoir's surface when it is at Usable
	MaxHead      hydraulics.Metres
	MaxFlow      hydraulics.CubicMetresPerSecond
	Curve        Curve   // of a data sheet, in place of the two; MaxHead is that of its last point
	Straight     float64 // how far its curve is the straight line through these two, 0 to 1
	Minor        float64 // sum of K; 0 means entrance, one elbow and exit
	Idle         float64 // times its own resistance for water running back; 0 means hydraulics.IdleResistance
}

// CurvePoints is the most that a pump's curve has.
const CurvePoints = 24

// Curve is the first N of its points, in order of head.
type Curve struct {
	N      int
	Points [CurvePoints]hydraulics.PumpPoint
}

// Drain is how a table empties below its crest: back through the idle pump, or
// through a fitting whose pipe falls Length, no further than to the reservoir. A
// normally open valve on the pump's circuit shuts the fitting while the pump
// runs, unless it is always open.
type Drain struct {
	ThroughPump  bool
	Always       bool // the fitting has no valve
	Bore, Length hydraulics.Metres
	Sump         hydraulics.Metres // depth of the channel to the mouth; 0 means 5 mm
}

// valve says whether a valve shuts the fitting while the pump runs.
func (d *Drain) valve() bool { return !d.ThroughPump && !d.Always }

// Bench is one table with what stands on it.
type Bench struct {
	Name               string
	Length, Width, Rim hydraulics.Metres
	Crest, Bore        hydraulics.Metres // of the standpipe
	Supply             Supply
	Drain              Drain
	Full, High, Empty  Float
	Leak               Contact // on the floor of the room; wet from 0.1 L there until mopped
	Reservoir, Pump    int
	Batches            []Pots
}

// Pots are one batch, standing on its table from Planted until Removed, both
// counted from the start of the world.
type Pots struct {
	Name      string
	Count     int
	Top       hydraulics.Metres // diameter at the rim of a pot
	Volume    safety.Litres     // of substrate in one pot
	Substrate Substrate
	Planted   time.Duration           // may be before the start
	Removed   time.Duration           // 0 means never; before the start is below 0
	Canopy    hydraulics.SquareMetres // of one full-grown plant; 0 means 1.5 × Top²
	Crop      demand.Crop             // nil means demand.LeafyYoung
	Care      func(age int) Care      // what a day of their age brings; nil: nobody asks how they fare
}

// Substrate is what a pot is filled with.
type Substrate struct {
	Capacity float64       // container capacity, share of volume
	Uptake   time.Duration // time constant of drinking from below when moist
	Rewets   float64       // share of that rate left when bone dry, 0 to 1
}

// Substrates of the trade. Capacities of peat and bark: Int. J. Agronomy
// 2012:978528 table 1; mineral wool: Acta Agrophysica 10:113, 2007; coir: the
// middle of Raviv & Lieth's range, from memory. Uptake and rewetting have no
// source: dry peat takes water poorly, coir and bark less so (Agronomy 10:1389,
// 2020), and media go from 30 to 70 % by volume in minutes of contact.
var (
	Peat = Substrate{Capacity: 0.87, Uptake: 5 * time.Minute, Rewets: 0.15}
	Coir = Substrate{Capacity: 0.70, Uptake: 4 * time.Minute, Rewets: 0.5}
	Bark = Substrate{Capacity: 0.48, Uptake: 4 * time.Minute, Rewets: 0.5}
	Wool = Substrate{Capacity: 0.864, Uptake: 2 * time.Minute, Rewets: 0.8}
)

// Shape assumptions of the simulated bench; none has a source.
const (
	potTaper    = 0.8   // section near the base over section at the top
	defaultSump = 0.005 // m
	hysteresis  = 0.002 // m between a float's make and its break
	padLitres   = 0.1   // on the floor that wet a leak switch
)

// section is the area that all pots of a batch take from a shallow flood.
func (p *Pots) section() float64 { return potTaper * float64(p.Top.Bore()) * float64(p.Count) }

// stands says whether the batch is on its table at a time.
func (p *Pots) stands(at time.Duration) bool {
	return p.Planted <= at && (p.Removed == 0 || at < p.Removed)
}

func (p *Pots) fill() {
	if p.Canopy == 0 {
		p.Canopy = hydraulics.SquareMetres(1.5 * float64(p.Top*p.Top))
	}
	if p.Crop == nil {
		p.Crop = demand.LeafyYoung
	}
}

// hasRoom says whether the pots leave a part of the table free, however the
// batches come and go.
func (b *Bench) hasRoom() bool {
	for _, newest := range b.Batches {
		free := float64(b.Length * b.Width)
		for _, p := range b.Batches {
			if p.stands(max(0, newest.Planted)) {
				free -= p.section()
			}
		}
		if free <= 0 {
			return false
		}
	}
	return true
}

// withDefaults returns a deep enough copy with zeros that mean something filled in.
func (c Config) withDefaults() Config {
	draws := c.Nature.Draw(c.Seed)
	c.Reservoirs = slices.Clone(c.Reservoirs)
	for i := range c.Reservoirs {
		r := &c.Reservoirs[i]
		r.drawn(draws, i)
		if r.Capacity == 0 {
			r.Capacity = 1.2 * r.Usable
		}
		if r.Area == 0 {
			r.Area = hydraulics.SquareMetres(float64(r.Capacity) / 1000 / draws.Of("tank.depth", i))
		}
		r.Evaporation += safety.Litres(draws.Of("tank.dries", i) * float64(r.Area))
	}
	c.Benches = slices.Clone(c.Benches)
	for i := range c.Benches {
		b := &c.Benches[i]
		if b.Supply.Minor == 0 {
			b.Supply.Minor, _ = hydraulics.MinorLoss(hydraulics.EntranceSharp, hydraulics.ElbowThreaded, hydraulics.Exit)
		}
		if b.Drain.Sump == 0 {
			b.Drain.Sump = defaultSump
		}
		b.drawn(draws, i)
		b.Batches = slices.Clone(b.Batches)
		for n := range b.Batches {
			b.Batches[n].fill()
		}
	}
	if c.Weather == nil {
		c.Weather = usual(c.Start, c.Seed)
	}
	return c
}

// check refuses a site that cannot be built. All that is wrong is in the error.
func (c Config) check() error {
	var errs []error
	wrong := func(format string, args ...any) { errs = append(errs, fmt.Errorf("simulated site: "+format, args...)) }
	if w, ok := c.Weather.(interface{ check() error }); ok {
		if err := w.check(); err != nil {
			wrong("%w", err)
		}
	}
	for i, o := range c.Outputs {
		if o.Enable != -1 && (o.Enable < 0 || o.Enable >= len(c.Outputs) || c.Outputs[o.Enable].Kind != safety.Enable) {
			wrong("output %d %q: enable %d is no enable output; use -1 for none", i, o.Name, o.Enable)
		}
	}
	for _, r := range c.Reservoirs {
		if r.Usable <= 0 || r.Keep < 0 || r.Keep >= r.Usable || r.Capacity < r.Usable || r.Area <= 0 || r.Evaporation < 0 {
			wrong("reservoir %q: want 0 ≤ keep < usable ≤ capacity and an area above 0", r.Name)
		}
	}
	for _, b := range c.Benches {
		if b.Reservoir < 0 || b.Reservoir >= len(c.Reservoirs) || b.Pump < 0 || b.Pump >= len(c.Outputs) {
			wrong("bench %q: no such reservoir or pump", b.Name)
		}
		b.check(wrong)
	}
	for _, s := range c.Stirrers {
		if s.Reservoir < 0 || s.Reservoir >= len(c.Reservoirs) || s.Output < 0 || s.Output >= len(c.Outputs) {
			wrong("stirrer on output %d: no such reservoir or output", s.Output)
		}
	}
	return errors.Join(errs...)
}

func (b Bench) check(wrong func(format string, args ...any)) {
	if !(b.Length > 0 && b.Width > 0 && b.Crest > 0 && b.Rim > b.Crest && b.Bore > 0) {
		wrong("bench %q: want length, width, bore above 0 and 0 < crest < rim", b.Name)
	}
	if !b.Drain.ThroughPump && !(b.Drain.Bore > 0 && b.Drain.Length > 0) {
		wrong("bench %q: want a drain of bore and length above 0, or one through the pump", b.Name)
	}
	if !b.hasRoom() {
		wrong("bench %q: no room for the pots that stand on it together", b.Name)
	}
	for _, p := range b.Batches {
		if p.Count <= 0 || p.Top <= 0 || p.Volume <= 0 || p.Substrate.Capacity <= 0 || p.Substrate.Uptake <= 0 {
			wrong("batch %q: want pots, top, volume, capacity and uptake above 0", p.Name)
		}
	}
}
