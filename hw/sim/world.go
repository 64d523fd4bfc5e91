package sim

import (
	"math/rand/v2"
	"slices"
	"time"

	"benchtide/safety"
	"benchtide/schedule/demand"
)

// World is a simulated site and its time: a hw.Board and a hw.Clock in one. It
// is not safe for concurrent use.
type World struct {
	cfg Config
	state
	source *rand.PCG
	random *rand.Rand
	air    float64 // times what still air takes by formula

	benches    []bench
	reservoirs []reservoir
	pots       []pots // all batches, in the order of the configuration
	outputs    []output
	handsIn    effect
	hang       time.Duration // when the present hang ends; 0 without one
	unread     time.Duration // since when no switch can be read; unlimited while they can
	silent     *silence      // what the outputs say whose expander does not answer; nil when all answer
	deaf       bool          // outputs keep their level whatever the program commands
	slow       float64       // share of SlowWrite that a write to storage takes

	active   []int // benches that water moves on
	begun    bool  // the rates at the beginning of the present move are worked out
	nextEdge time.Duration
	changed  bool // a raw reading changed and was not read yet
}

// state is all that changes; a snapshot is its JSON.
type state struct {
	At      time.Duration // since the start of the world
	Base    time.Duration // At when the boot-time clock read 0
	Boots   int
	Shift   time.Duration // of the wall clock
	Trusted bool
	Down    string        // why the program does not run; empty while it does
	Dark    bool          // no power
	Stride  time.Duration // of the next step on a table

	Benches    []benchState
	Reservoirs []reservoirState
	Pots       []potState
	Outputs    []outputState
	Pressed    bool // the hands-in button
	Faults     []faultState
	Sag        struct{ From, Until time.Duration } // a brown-out to come or under way
	Totals     Totals
	Random     []byte
}

type benchState struct {
	Litres, Salt float64 // on the table
	Made, Lifted [switches]bool
	Floor        float64       // litres on the floor since it was last mopped
	Spilled      float64       // litres since the start
	Peak         float64       // deepest, m
	Pumping      bool          // its pump is energised
	Air          bool          // the pump is air-bound
	Idle         time.Duration // At when the pump last stopped
	Primed       time.Duration // At when the hose of the present run is full
}

type reservoirState struct {
	Litres, Salt       float64
	Low, Lifted        bool // the float at LowAt, and held down by a hand
	Level, LiftedLevel bool // so with the float at LevelAt
	Celsius            float64
	Shown              float64 // by a thermometer that sticks
	Min                float64 // least litres so far
	ToppedUp           float64
	Spilled            float64
}

type potState struct {
	OnTable bool    `json:"Standing"` // as worlds that were saved call it
	Litres  float64 // in all pots of the batch
	Lowest  float64 // share of container capacity
	Harms   [Causes]Harm
}

type outputState struct {
	Coil    bool
	Stuck   bool // contact welded
	Contact bool // closed
	Circuit bool // contact, enable in series and mains: the load runs
	Run     time.Duration
	Dry     time.Duration // of Run, with the intake bare
	Starts  int
}

// Totals balance the water of the world, in litres.
type Totals struct {
	Initial                                float64 // in reservoirs and pots at the start
	ToppedUp, Arrived                      float64 // by the grower, with new batches
	Used, Evaporated, Spilled, Removed     float64 // by plants, from reservoirs, to the floor, with batches
	Moved                                  float64 // lifted by pumps
	TableToFloor, HoseToFloor, TankToFloor float64 // shares of Spilled
}

// bench is what one table needs in the inner loop, all of it from Config, the
// effects of faults, or scratch.
type bench struct {
	*Bench
	plumbing
	own                      own
	basin                    basin
	pots                     []int
	switches                 [switches]sensor
	spinning                 bool // energised and alive: nothing runs back through it
	turning                  bool // and not air-bound: it moves water
	dead, missing, airlocked bool
	speed, open, hose, leak  float64 // 1, 1, 0, 0 when all is well
	valve                    float64 // where the drain's valve is stuck, 0 shut to 1 open; below 0 when it moves
	tilt                     float64 // m by which the end with the floats stands higher than the middle

	volume   float64 // at the stage of a step
	run      run     // what its present run of the pump drew
	rates    [4]links
	net      [4]float64 // what the rates add to the table, L/s
	next     float64    // litres after the step
	floored  float64    // litres to the floor in the step
	drinking float64    // L/s by all pots
}

type reservoir struct {
	*Reservoir
	intake            float64
	lag               time.Duration // of its warmth behind the room
	low               sensor
	level             sensor
	leak, warm, chill float64
	mute, frozen      bool    // of its thermometer
	lowBand           float64 // litres of the float's hysteresis
	levelBand         float64

	volume  float64
	rates   [4]float64
	next    float64
	floored float64 // litres leaked in the step
	leaking float64 // L/s
	drying  float64 // L/s, evaporation
}

type pots struct {
	*Pots
	bench    int
	capacity float64    // litres, all pots
	canopy   float64    // m², all plants full grown
	thirst   float64    // times what is worked out that these plants use
	growth   growth     // how their leaves close over the table
	start    float64    // share of container capacity on their first day
	holds    demand.Pot // all pots as one
	sip      float64    // litres drunk in the step

	fresh bool    // no factor is remembered
	age   int     // days since transplant, for which
	grown float64 // is the crop's factor

	bears  [Causes]float64 // times what is usual that a cause hurts these plants
	cared  bool            // the care is that of a day
	careOn int             // at this age
	care   Care
}

type output struct {
	Output
	open, armed bool // by fault: contact never closes; welds at its next closing
	tripped     bool // its mains breaker
	gone        bool // the expander that it hangs on does not answer
}

// New builds the world. The configuration is copied; a site that cannot be
// built is an error.
func New(c Config) (*World, error) {
	w := &World{cfg: c.withDefaults()}
	if err := w.cfg.check(); err != nil {
		return nil, err
	}
	w.source = rand.NewPCG(c.Seed, c.Seed^0x9e3779b97f4a7c15)
	w.random = rand.New(w.source)
	if err := w.build(); err != nil {
		return nil, err
	}
	w.fill()
	w.passEdges()
	w.Totals.Initial = w.stored()
	w.Totals.Arrived = 0
	return w, nil
}

// fill sets the first state: reservoirs at Usable, tables bare, everything off.
func (w *World) fill() {
	w.Base, w.Trusted, w.Boots = -w.cfg.Uptime, !w.cfg.Untrusted, 1
	w.Pots = make([]potState, len(w.pots))
	w.Outputs = make([]outputState, len(w.outputs))
	w.Benches = make([]benchState, len(w.benches))
	for i := range w.Benches {
		w.Benches[i].Idle = -airEscapes
		w.lay(i)
	}
	for i := range w.reservoirs {
		r := &w.reservoirs[i]
		litres := float64(r.Usable)
		w.Reservoirs = append(w.Reservoirs, reservoirState{
			Litres: litres, Min: litres, Salt: r.Strength * litres, Celsius: w.cfg.Weather.Solution(0),
			Low: r.Low.Fitted && litres >= float64(r.LowAt), Level: r.Level.Fitted && litres >= float64(r.LevelAt),
		})
	}
}

// stored is all the water in the world that is not lost.
func (w *World) stored() float64 {
	var sum float64
	for i := range w.Benches {
		sum += w.Benches[i].Litres
	}
	for i := range w.Reservoirs {
		sum += w.Reservoirs[i].Litres
	}
	for i := range w.Pots {
		sum += w.Pots[i].Litres
	}
	return sum
}

// stand puts a batch on its table at container capacity, or takes it away.
func (w *World) stand(i int, there bool) {
	p, s := &w.pots[i], &w.Pots[i]
	if s.OnTable == there {
		return
	}
	s.OnTable = there
	if there {
		s.Litres, s.Lowest = p.start*p.capacity, p.start
		w.Totals.Arrived += s.Litres
	} else {
		w.Totals.Removed += s.Litres
		s.Litres = 0
	}
	w.lay(p.bench)
}

// lay tells a table's basin which pots stand in it.
func (w *World) lay(bench int) {
	b := &w.benches[bench]
	var shapes []potShape
	for _, i := range b.pots {
		if p := w.pots[i]; w.Pots[i].OnTable {
			shapes = append(shapes, potShape{p.section(), float64(p.Volume) / 1000 * float64(p.Count) / p.section()})
		}
	}
	b.basin.lay(shapes)
}

// relist finds the benches that water moves on.
func (w *World) relist() {
	w.active = w.active[:0]
	for i := range w.benches {
		w.benches[i].floored = 0
		if w.Benches[i].Pumping || w.Benches[i].Litres > 0 {
			w.active = append(w.active, i)
		}
	}
}

// draws gives the reservoir that an output's pump draws from, if it is a pump.
func (w *World) draws(out int) (reservoir int, ok bool) {
	for i := range w.benches {
		if w.benches[i].Pump == out {
			return w.benches[i].Reservoir, true
		}
	}
	if i := slices.IndexFunc(w.cfg.Stirrers, func(s Stirrer) bool { return s.Output == out }); i >= 0 {
		return w.cfg.Stirrers[i].Reservoir, true
	}
	return 0, false
}

// Shape gives the shape of the site as the guard's slices have it, for
// Readings of the right size; it carries none of the numbers.
func (w *World) Shape() safety.Limits {
	return safety.Limits{
		Benches:    make([]safety.BenchLimits, len(w.benches)),
		Reservoirs: make([]safety.ReservoirLimits, len(w.reservoirs)),
	}
}
