package rehearse

import (
	"cmp"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/hw/hydraulics"
	"benchtide/hw/sim"
	"benchtide/safety"
	"benchtide/schedule"
)

// Weathers are the kinds of weather that a scenario may ask for.
var Weathers = map[string]sim.Climate{"mild": sim.Mild, "normal": sim.Normal, "hot": sim.Hot}

// NewWorld builds the simulated site of a file, from the geometry that the
// file gives, in normal weather: reservoirs full, tables bare, pots at
// container capacity, everything off, the clock trusted.
func NewWorld(site *config.Site, start time.Time) (*sim.World, error) {
	return sim.New(worldConfig(site, start, &Scenario{Seed: 1}))
}

// RestoreWorld goes on with a world of NewWorld, begun at start, from its
// snapshot.
func RestoreWorld(site *config.Site, start time.Time, snapshot []byte) (*sim.World, error) {
	return sim.Restore(worldConfig(site, start, &Scenario{Seed: 1}), snapshot)
}

func worldConfig(site *config.Site, start time.Time, scenario *Scenario) sim.Config {
	limits := site.Limits()
	c := sim.Config{
		HandsIn: site.HandsIn != nil,
		Start:   start.UTC(),
		Uptime:  time.Minute,
		Seed:    scenario.Seed,
		Nature:  scenario.Nature,
		Weather: weather(site, schedule.CivilIn(start, site.Zone), scenario),
		Lamps:   lamps(site, schedule.CivilIn(start, site.Zone)),
	}
	for _, o := range limits.Outputs {
		c.Outputs = append(c.Outputs, sim.Output{Name: o.Name, Kind: o.Kind, Enable: o.Enable})
	}
	for _, s := range limits.Stirrers {
		c.Stirrers = append(c.Stirrers, sim.Stirrer{Output: s.Output, Reservoir: s.Reservoir})
	}
	for _, r := range site.Reservoirs {
		c.Reservoirs = append(c.Reservoirs, sim.Reservoir{
			Name: r.Name, Usable: safety.Litres(r.Usable), Keep: safety.Litres(r.Keep),
			Low: contact(r.Low), LowAt: safety.Litres(r.LowAt),
			Level: contact(r.Level), LevelAt: safety.Litres(r.LevelAt), Thermometer: r.Thermometer != "",
			Area: hydraulics.SquareMetres(r.Inside.Area()), LowBand: metres(r.LowBand), LevelBand: metres(r.LevelBand),
		})
	}
	for i := range site.Benches {
		c.Benches = append(c.Benches, benchConfig(site, i, start))
	}
	return c
}

// weather is that of the scenario: days on record, or of a kind within the
// site's climate.
func weather(site *config.Site, start schedule.Civil, scenario *Scenario) sim.Weather {
	climate, place, _ := site.Weather()
	first, offset := time.Unix(int64(start.Date().At(0)), 0).UTC(), time.Duration(start.TimeOfDay())*time.Second
	if scenario.Records != nil {
		return &sim.Recorded{Records: *scenario.Records, Location: place, First: first, Offset: offset}
	}
	return &sim.Days{
		Climate: Weathers[cmp.Or(scenario.Weather, usualWeather)], Location: place, Line: climate.Line,
		First: first, Offset: offset, Seed: scenario.Seed,
	}
}

func benchConfig(site *config.Site, i int, start time.Time) sim.Bench {
	b := &site.Benches[i]
	s := sim.Bench{
		Name: b.Name, Reservoir: b.Reservoir, Pump: b.Pump,
		Length: metres(b.Table.Length), Width: metres(b.Table.Width), Rim: metres(b.Table.Rim),
		Crest: metres(b.Standpipe.Crest), Bore: metres(b.Standpipe.Bore),
		Supply: sim.Supply{
			Bore: metres(b.Supply.Bore), Length: metres(b.Supply.Length), Lift: metres(b.Supply.Lift),
			MaxHead: metres(b.Supply.MaxHead), MaxFlow: hydraulics.CubicMetresPerSecond(float64(b.Supply.MaxFlow) / 3.6e6),
		},
		Drain: sim.Drain{ThroughPump: b.Drain.ThroughPump, Always: b.Drain.Always, Bore: metres(b.Drain.Bore), Length: metres(b.Drain.Length)},
		Full:  float(b.Full), High: float(b.High), Empty: float(b.Empty), Leak: contact(b.Leak),
	}
	for _, p := range b.Supply.Curve {
		s.Supply.Curve.Points[s.Supply.Curve.N] = hydraulics.PumpPoint{Flow: hydraulics.CubicMetresPerSecond(float64(p.Flow) / 3.6e6), Head: metres(p.Head)}
		s.Supply.Curve.N++
	}
	for j, batch := range site.Batches {
		if batch.Bench == i {
			s.Batches = append(s.Batches, potsConfig(site, j, start))
		}
	}
	return s
}

func potsConfig(site *config.Site, i int, start time.Time) sim.Pots {
	b, zone := &site.Batches[i], site.Zone
	p := sim.Pots{
		Name: b.Name, Count: b.Pots.Count, Top: metres(b.Pots.Top), Volume: safety.Litres(b.Pots.Volume),
		Substrate: substrate(b.Substrate), Planted: b.Transplanted.At(0).In(zone).Sub(start),
		Canopy: hydraulics.SquareMetres(site.Space(i)), Crop: site.Crop(i),
	}
	if b.Closed != 0 {
		p.Removed = cmp.Or(b.Closed.AddDays(1).At(0).In(zone).Sub(start), -1) // at the start is before it: 0 is never
	}
	return p
}

// substrate is the simulation's own of that name; one that it does not know
// drinks as bark does.
func substrate(s config.Substrate) sim.Substrate {
	known := map[string]sim.Substrate{"peat": sim.Peat, "coir": sim.Coir, "bark": sim.Bark, "rockwool": sim.Wool}
	if k, ok := known[s.Name]; ok {
		return k
	}
	k := sim.Bark
	k.Capacity = s.Water
	return k
}

func contact(s *config.Switch) sim.Contact {
	if s == nil {
		return sim.Contact{}
	}
	return sim.Contact{Fitted: true, WaterOpens: !s.Closes}
}

// lowest is where a float on the floor of a table turns.
const lowest quantity.Metres = 0.003

func float(s *config.Switch) sim.Float {
	if s == nil {
		return sim.Float{}
	}
	return sim.Float{Contact: contact(s), At: metres(max(s.At, lowest))}
}

func metres(m quantity.Metres) hydraulics.Metres { return hydraulics.Metres(m) }

// Names are what the indices of a site stand for.
func Names(site *config.Site) controller.Names {
	n := controller.Names{
		Site: site.Name, Zone: site.Zone, Units: site.Units, Outputs: site.OutputNames(), Benches: site.BenchNames(),
		Reservoirs: site.ReservoirNames(), Batches: site.BatchNames(), Titles: site.Titles,
	}
	for i := range site.Batches {
		n.BenchOf = append(n.BenchOf, site.Batches[i].Bench)
	}
	return n
}

// Setup returns what the controller of a site is built from.
func Setup(site *config.Site) (controller.Setup, error) {
	calendar, err := site.Calendar()
	if err != nil {
		return controller.Setup{}, err
	}
	s := controller.Setup{Units: site.Units, Titles: site.Titles, Limits: site.Limits(), Calendar: calendar, Plans: site.Plans, Buzzer: -1}
	for _, b := range site.Batches {
		s.Batches = append(s.Batches, b.Batch)
	}
	for _, a := range site.Aeration {
		if a.Always || a.From == a.To {
			s.AlwaysOn = append(s.AlwaysOn, a.Output)
			continue
		}
		s.DayOutputs = append(s.DayOutputs, controller.DayOutput{Output: a.Output, On: a.From, Off: a.To})
	}
	for _, l := range site.Lamps {
		if l.Output >= 0 {
			s.DayOutputs = append(s.DayOutputs, controller.DayOutput{Output: l.Output, On: l.On, Off: l.Off})
		}
	}
	if b := site.Buzzer; b != nil {
		s.Buzzer, s.BuzzBefore = b.Output, b.BeforeStart
	}
	if m := site.Messages; m != nil && m.Lamp >= 0 {
		s.AlarmLamps = append(s.AlarmLamps, m.Lamp)
	}
	if m := site.Messages; m != nil && m.Buzzer >= 0 {
		s.AlarmHorns = append(s.AlarmHorns, m.Buzzer)
	}
	return s, weighs(&s, site)
}
