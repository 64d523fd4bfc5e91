package safety

import "time"

// Litres is a volume of water.
type Litres float64

// LitresPerSecond is a flow.
type LitresPerSecond float64

// Celsius is a temperature.
type Celsius float64

// OutputKind says what hangs on an output.
type OutputKind uint8

// The kinds of output. Pumps of both kinds sit behind an enable relay when
// the site has one; Other covers air, lamps and buzzer, which do not.
const (
	Other OutputKind = iota
	FloodPump
	Stirrer
	Enable
)

// OutputLimits describes one output.
type OutputLimits struct {
	Name   string
	Kind   OutputKind
	Enable int // index of the enable output in series with this pump; -1 without one

	// Line is the line of the board that drives it: what a bench is known by when
	// its name changes. Empty where nobody says.
	Line string
}

// BenchLimits are the numbers the guard holds one bench to. They come from
// the bench sheet or from calibration, never from the schedule.
type BenchLimits struct {
	Name      string
	Reservoir int // index in Limits.Reservoirs
	Pump      int // index of the flood pump in Limits.Outputs

	Full, High, Empty, Leak bool // which switches are fitted

	Fill  time.Duration // T_fill: pump start to FULL made
	Fall  time.Duration // T_fall: pump stop to FULL clear
	Drain time.Duration // T_drain: pump stop to bare table
	Over  time.Duration // T_over: crest to rim with the drain blocked and the pump running

	// The windows of a bench of which nothing was timed are wider than what follows from
	// the times above; 0 where they are not.
	FillFrom, FillBy, FallBy time.Duration

	MaxHold  time.Duration   // the longest hold of any stage: no Want may ask for more
	DailyRun time.Duration   // twice the pump time a day of the plan's busiest stage
	Flow     LitresPerSecond // the sheet's flow while filling
	Flood    Litres          // V_flood: the most litres out at once
	ToFull   Litres          // out when FULL is made, what stands in the hose included; 0 when not known
	ToCrest  Litres          // out when the water stands at the crest
}

// FillWindow is within which time after the start of its pump FULL has to be made: half
// of Fill to one and a half times it, where nothing wider is given.
func (b *BenchLimits) FillWindow() (from, by time.Duration) {
	from, by = b.Fill/2, max(half3(b.Fill), b.FillBy)
	if b.FillFrom > 0 {
		from = min(from, b.FillFrom)
	}
	return from, by
}

// MaxRun is the longest run with a hold; without FULL and HIGH nothing but time keeps
// the water below the rim, so the hold is not granted.
func (b *BenchLimits) MaxRun(hold time.Duration) time.Duration {
	if !b.Full && !b.High {
		return b.Fill
	}
	_, by := b.FillWindow()
	return hold + by
}

// FallLimit is how long FULL may take to clear after the pump stopped.
func (b *BenchLimits) FallLimit() time.Duration {
	return max(half3(b.Fall), b.FallBy, MinFallLimit)
}

// ReservoirLimits are the numbers of one reservoir.
type ReservoirLimits struct {
	Name        string
	Usable      Litres // includes Keep
	Keep        Litres // never drawn: covers the intake
	Low         bool   // a low switch is fitted
	LowAt       Litres // what a made low switch proves, table empty
	Level       bool   // a level switch is fitted: it weighs, and forbids nothing
	LevelAt     Litres // what it turns at, table empty
	Thermometer bool
}

// StirrerLimits are the numbers of one stirring pump.
type StirrerLimits struct {
	Output      int // index in Limits.Outputs
	Reservoir   int
	BeforeFlood time.Duration // how long ahead of a flood it runs; the guard allows 1.5 times this
}

// Limits describe a whole site to the guard. Indices into the slices are the
// identity of benches, reservoirs, stirrers and outputs everywhere else.
type Limits struct {
	Outputs    []OutputLimits
	Reservoirs []ReservoirLimits
	Benches    []BenchLimits
	Stirrers   []StirrerLimits

	// FloorDrained: the floor can take a spill, so a failed fill latches only
	// at the second slot in a row.
	FloorDrained bool

	Gallons bool // people read volumes in US gallons, not in litres
}
