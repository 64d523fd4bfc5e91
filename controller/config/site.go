package config

import (
	"math"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/controller/texts"
	"benchtide/hw/lines"
	"benchtide/safety"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Site is a whole file, read and found sound. Everything keeps the order of
// the file: indices are identity, and benches whose floods coincide take turns
// in that order.
type Site struct {
	newer   func() Problems                 // see reader.newer; nil of any other
	warning func(path, text string) Problem // at its place in the file that was checked; nil of any other

	Name         string
	Zone         *time.Location
	Location     *Location      // nil when the file does not say where the site is
	Climate      *Climate       // nil when the file does not say; see Weather
	Records      string         // path of a table of days or a sensor's log; empty without one
	FloorDrained bool           // the floor can take a spill
	Units        quantity.Units // in which people are told of its figures
	Board        Board

	Outputs    []Output
	Reservoirs []Reservoir
	Benches    []Bench
	Stirring   []Stirring
	Aeration   []Aeration
	Lamps      []Lamp
	Buzzer     *Buzzer   // nil when none is fitted
	HandsIn    *Switch   // the button; wet means pressed; nil when none is fitted
	Messages   *Messages // nil when the file does not say how people are told

	Plans   []schedule.Plan
	Batches []Batch

	Titles texts.Titles // what people call benches, reservoirs, batches and plans

	sheets  []sheet.Sheet // by bench
	busiest [][]int       // by plan and stage: floods on its busiest day
}

// Location is where a site is, in degrees, north and east positive.
type Location struct{ Latitude, Longitude float64 }

// Board says what the outputs and switches are wired to.
type Board string

// The boards.
const (
	Simulated Board = "simulated"
	GPIO      Board = "gpio"
)

// OutputKind says what hangs on an output.
type OutputKind string

// The kinds of output.
const (
	Pump       OutputKind = "pump"
	Air        OutputKind = "air"
	EnableCoil OutputKind = "enable"
	LampKind   OutputKind = "lamp"
	BuzzerKind OutputKind = "buzzer"
)

// Output is one relay.
type Output struct {
	Name         string
	Line         lines.Line
	EnergiseHigh bool // the level that energises the relay
	Kind         OutputKind
	Enable       int // of a pump: index of the enable output in series with it; -1 without one
}

// Pull is what holds a line while the contact of its switch is open.
type Pull string

// The pulls.
const (
	PullUp   Pull = "up"
	PullDown Pull = "down"
	PullNone Pull = "none" // the wiring brings its own
)

// Switch is one contact on an input line.
type Switch struct {
	Line   lines.Line
	At     quantity.Metres // height of the water that turns it, above the table floor; 0 for leak, low and hands-in
	Closes bool            // water, or a hand on the button, closes the contact
	Pull   Pull
}

// Reservoir is the water under one or more benches.
type Reservoir struct {
	Name    string
	Usable  quantity.Litres // includes Keep
	Keep    quantity.Litres // never drawn: covers the intake
	Inside  Inside          // zero where the file does not say
	Low     *Switch         // nil when none is fitted
	LowAt   quantity.Litres // what the made low switch proves, tables empty
	Level   *Switch         // a second float, which weighs and forbids nothing; nil when none is fitted
	LevelAt quantity.Litres // what it turns at, tables empty

	LowBand, LevelBand quantity.Metres // how far below where they are made they turn back; 0 where the file does not say
	Thermometer        string          // path of its reading; empty when none is fitted
}

// Inside is the plan of a reservoir: a length and a width, or a diameter.
type Inside struct{ Length, Width, Diameter quantity.Metres }

// Area is that of its surface; 0 where the file does not say.
func (in Inside) Area() quantity.SquareMetres {
	if in.Diameter > 0 {
		return quantity.SquareMetres(math.Pi / 4 * in.Diameter * in.Diameter)
	}
	return quantity.SquareMetres(in.Length * in.Width)
}

// Bench is one flooded table. A nil switch is not fitted.
type Bench struct {
	Name      string
	Reservoir int // index in Site.Reservoirs
	Pump      int // index in Site.Outputs

	Table     sheet.Table
	Standpipe sheet.Standpipe
	Supply    sheet.Supply
	Drain     sheet.Drain
	Cycle     sheet.Cycle

	Full, High, Empty, Leak *Switch
}

// Stirring is a pump that stirs a reservoir ahead of a flood.
type Stirring struct {
	Output      int // index in Site.Outputs
	Reservoir   int // index in Site.Reservoirs
	BeforeFlood time.Duration
}

// Aeration is an air pump and its hours; From and To are equal when it never rests.
type Aeration struct {
	Output   int // index in Site.Outputs
	Always   bool
	From, To schedule.TimeOfDay
}

// Lamp is lamps and their hours.
type Lamp struct {
	Output int // index in Site.Outputs; -1 where a timer of their own switches them
	schedule.Lamps
	Flux float64 // of photons at the leaves, µmol/m²s; 0 when the file does not say
}

// Buzzer sounds before an automatic start.
type Buzzer struct {
	Output      int // index in Site.Outputs
	BeforeStart time.Duration
}

// Batch is a set of plants of one age on one bench, and their pots.
type Batch struct {
	schedule.Batch               // Transplanted is the day of sowing where they stay in the pots they were sown in
	Sown           schedule.Date // 0 where the file does not say
	Pots           sheet.Pots
	Substrate      Substrate
	Crop           demand.Canopy
	CropName       string          // as the file names it
	Spread         quantity.Metres // of one grown plant; 0 means its share of the bench
}

// Began is how plants came onto the bench, from which day their ages count: sown
// or transplanted, as the key of the file says it.
func (b *Batch) Began() string {
	if b.Sown == b.Transplanted {
		return "sown"
	}
	return "transplanted"
}

// Sheet returns the bench sheet of bench i.
func (s *Site) Sheet(i int) sheet.Sheet { return s.sheets[i] }

// Calendar returns the calendar of the site's floods.
func (s *Site) Calendar() (*schedule.Calendar, error) {
	return schedule.NewCalendar(s.setup())
}

// Conflicts are what benches withhold from their batches on the dates from to to, in
// the names that people read, each with the date on which it really ends.
func (s *Site) Conflicts(from, to schedule.Date) ([]schedule.Conflict, error) {
	setup := s.setup()
	for i := range setup.Batches {
		setup.Batches[i].Name = texts.Listed(setup.Batches[i].Name, s.Titles.Batches)
	}
	c, err := schedule.NewCalendar(setup)
	if err != nil {
		return nil, err
	}
	return c.ConflictsBegun(from, to), nil
}

func (s *Site) setup() schedule.Setup {
	setup := schedule.Setup{Zone: s.Zone, Light: s.light(), Plans: s.Plans, Benches: len(s.Benches)}
	for _, b := range s.Batches {
		setup.Batches = append(setup.Batches, b.Batch)
	}
	return setup
}

// light returns when plants have light: the hours of the first lamps where
// there are any, else daylight where the file says where the site is, else nil.
func (s *Site) light() schedule.Light {
	switch {
	case len(s.Lamps) > 0:
		return s.Lamps[0].Lamps
	case s.Location != nil:
		return schedule.Sun{Latitude: s.Location.Latitude, Longitude: s.Location.Longitude, Zone: s.Zone}
	}
	return nil
}

// Limits returns what the guard holds the site to. Output i of the site is
// output i of the limits; so with reservoirs, benches and stirrers.
func (s *Site) Limits() safety.Limits {
	l := safety.Limits{FloorDrained: s.FloorDrained, Gallons: s.Units == quantity.US}
	for i, o := range s.Outputs {
		l.Outputs = append(l.Outputs, safety.OutputLimits{Name: o.Name, Kind: s.GuardKind(i), Enable: o.Enable, Line: o.Line.Key()})
	}
	for _, r := range s.Reservoirs {
		l.Reservoirs = append(l.Reservoirs, safety.ReservoirLimits{
			Name: r.Name, Usable: safety.Litres(r.Usable), Keep: safety.Litres(r.Keep),
			Low: r.Low != nil, LowAt: safety.Litres(r.LowAt),
			Level: r.Level != nil, LevelAt: safety.Litres(r.LevelAt), Thermometer: r.Thermometer != "",
		})
	}
	for i := range s.Benches {
		l.Benches = append(l.Benches, s.benchLimits(i))
	}
	for _, st := range s.Stirring {
		l.Stirrers = append(l.Stirrers, safety.StirrerLimits{Output: st.Output, Reservoir: st.Reservoir, BeforeFlood: st.BeforeFlood})
	}
	return l
}

// BenchNames lists the benches in order of the file.
func (s *Site) BenchNames() []string {
	return namesOf(s.Benches, func(o Bench) string { return o.Name })
}

// ReservoirNames lists the reservoirs in order of the file.
func (s *Site) ReservoirNames() []string {
	return namesOf(s.Reservoirs, func(o Reservoir) string { return o.Name })
}

// BatchNames lists the batches in order of the file.
func (s *Site) BatchNames() []string {
	return namesOf(s.Batches, func(o Batch) string { return o.Name })
}

// OutputNames lists the outputs in order of the file.
func (s *Site) OutputNames() []string {
	return namesOf(s.Outputs, func(o Output) string { return o.Name })
}

// GuardKind returns the kind that the guard knows output i by: a pump is what
// it is used for.
func (s *Site) GuardKind(i int) safety.OutputKind {
	switch s.Outputs[i].Kind {
	case EnableCoil:
		return safety.Enable
	case Pump:
		for _, st := range s.Stirring {
			if st.Output == i {
				return safety.Stirrer
			}
		}
		return safety.FloodPump
	}
	return safety.Other
}

const (
	// beyond is how far past the end of its span a bench that nobody timed may go: one in
	// twenty lies past it.
	beyond = 1.25

	// longestFill is how many times T_fill a pump may run for FULL at the most: what a hose
	// that is off brings to the floor by then.
	longestFill = 3
)

// benchLimits are those of bench i. What was not timed is taken from the end of its
// span that is the safer one: a table counts as wet for longer, and overflows sooner.
func (s *Site) benchLimits(i int) safety.BenchLimits {
	b, sh := &s.Benches[i], &s.sheets[i]
	l := s.timedLimits(i)
	if over := sh.Spans.Low("t_over_s"); over > 0 {
		l.Over = min(l.Over, over)
	}
	past := func(key string) time.Duration { return time.Duration(beyond * float64(sh.Spans.High(key))) }
	if b.Cycle.Fill == 0 && b.Full != nil {
		l.FillFrom, l.FillBy = sh.Spans.Low("t_fill_s")/2, min(past("t_fill_s"), longestFill*l.Fill)
	}
	if b.Cycle.Fall == 0 {
		l.FallBy = past("t_fall_s")
	}
	if b.Cycle.Drain == 0 {
		l.Drain = max(l.Drain, sh.Spans.High("t_drain_s"))
	}
	return l
}

// timedLimits are those of a bench whose figures hold.
func (s *Site) timedLimits(i int) safety.BenchLimits {
	b, sh := &s.Benches[i], &s.sheets[i]
	return safety.BenchLimits{
		Name: b.Name, Reservoir: b.Reservoir, Pump: b.Pump,
		Full: b.Full != nil, High: b.High != nil, Empty: b.Empty != nil, Leak: b.Leak != nil,
		Fill: sh.Fill, Fall: sh.Fall, Drain: sh.Drain, Over: sh.Over,
		MaxHold: s.maxHold(i), DailyRun: s.dailyRun(i),
		Flow: safety.LitresPerSecond(sh.Flow / 3600), Flood: safety.Litres(sh.VFlood),
		ToFull: safety.Litres(sh.ToFull), ToCrest: safety.Litres(sh.ToCrest),
	}
}
