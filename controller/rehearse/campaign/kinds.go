package campaign

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"benchtide/controller/config"
)

// kind is one kind of fault as a campaign draws and judges it. Its name is that
// of the simulated site; rows are the numbers of the failures that it stands for.
type kind struct {
	what   string
	rows   string
	places func(*config.Site) []string
	sizes  [2]float64
	lasts  [2]time.Duration // drawn evenly on a logarithmic scale
	grows  bool             // it may come on slowly
	small  bool             // every second is drawn evenly on a logarithmic scale
	signed bool             // it may be as large the other way
	again  bool             // it may come a second time after an outage
}

const all = 1.0

var kinds = []kind{
	{what: "relay-welded", rows: "F01 F04 F12", places: pumps, sizes: whole, lasts: days(0.5, 7)},
	{what: "relay-open", rows: "F02", places: outputs, sizes: whole, lasts: days(0.5, 7)},
	{what: "process-crash", rows: "F05 F57", places: machine, sizes: whole, lasts: [2]time.Duration{time.Second, 10 * time.Minute}},
	{what: "breaker-tripped", rows: "F07 F65", places: pumps, sizes: whole, lasts: days(0.5, 7)},
	{what: "power-cut", rows: "F08 F09 F53", places: machine, sizes: whole, lasts: [2]time.Duration{time.Second, 60 * time.Hour}},
	{what: "brownout-loop", rows: "F10", places: machine, sizes: whole, lasts: days(0.1, 3)},
	{what: "full-stuck-low", rows: "F13", places: with(full), sizes: whole, lasts: days(0.1, 7)},
	{what: "full-stuck-high", rows: "F14", places: with(full), sizes: whole, lasts: days(0.1, 7)},
	{what: "wire-open", rows: "F15", places: switches, sizes: whole, lasts: days(0.001, 7)},
	{what: "wire-short", rows: "F16", places: switches, sizes: whole, lasts: days(0.001, 7)},
	{what: "chatter", rows: "F11 F19 F27", places: with(full), sizes: whole, lasts: days(0.001, 0.5)}, // latched within a minute; the rest is only noise
	{what: "high-dead", rows: "F20", places: with(high), sizes: whole, lasts: days(0.5, 7)},
	{what: "low-stuck", rows: "F21", places: lows, sizes: whole, lasts: days(0.5, 7)},
	{what: "drain-blocked", rows: "F23 F35", places: (*config.Site).BenchNames, sizes: [2]float64{0.3, 1.5}, lasts: days(0.1, 7), grows: true},
	{what: "valve-stuck", rows: "F35", places: valves, sizes: [2]float64{0.05, all}, lasts: days(0.1, 7)},
	{what: "table-tilted", rows: "F25 F29", places: (*config.Site).BenchNames, sizes: [2]float64{0.05, all}, lasts: days(0.5, 7), grows: true, signed: true},
	{what: "standpipe-missing", rows: "F24", places: (*config.Site).BenchNames, sizes: whole, lasts: days(0.1, 7)},
	{what: "table-leak", rows: "F26", places: (*config.Site).BenchNames, sizes: [2]float64{0.02, all}, lasts: days(0.5, 7), grows: true, small: true},
	{what: "pump-dead", rows: "F30", places: (*config.Site).BenchNames, sizes: whole, lasts: days(0.1, 7)},
	{what: "pump-weak", rows: "F31", places: (*config.Site).BenchNames, sizes: [2]float64{0.1, 0.95}, lasts: days(0.5, 7), grows: true},
	{what: "air-lock", rows: "F32", places: (*config.Site).BenchNames, sizes: whole, lasts: days(0.01, 3)},
	{what: "hose-off", rows: "F33 F34", places: (*config.Site).BenchNames, sizes: [2]float64{0.02, 1.5}, lasts: days(0.1, 7), grows: true, small: true},
	{what: "reservoir-leak", rows: "F36 F37", places: (*config.Site).ReservoirNames, sizes: [2]float64{0.02, all}, lasts: days(0.1, 4), grows: true, small: true},
	{what: "top-up-while-flooded", rows: "F38", places: (*config.Site).ReservoirNames, sizes: whole, lasts: days(1, 7)},
	{what: "heat", rows: "F46", places: (*config.Site).ReservoirNames, sizes: whole, lasts: days(0.5, 7)},
	{what: "cold", rows: "F47", places: (*config.Site).ReservoirNames, sizes: whole, lasts: days(0.5, 7)},
	{what: "thermometer-dead", rows: "F56", places: thermometers, sizes: whole, lasts: days(0.1, 7)},
	{what: "thermometer-stuck", rows: "F56", places: thermometers, sizes: whole, lasts: days(0.1, 7)},
	{what: "process-hang", rows: "F48 B03", places: machine, sizes: whole, lasts: [2]time.Duration{100 * time.Millisecond, 10 * time.Minute}},
	{what: clockJump, rows: "F49 F50", places: machine, sizes: whole, lasts: [2]time.Duration{time.Second, 30 * 24 * time.Hour}},
	{what: "storage-full", rows: "F51", places: machine, sizes: whole, lasts: days(0.1, 7)},
	{what: "storage-broken", rows: "F52", places: machine, sizes: whole, lasts: days(0.1, 7)},
	{what: "storage-slow", rows: "F52", places: machine, sizes: [2]float64{0.02, all}, lasts: days(0.0001, 7)},
	{what: "switches-unread", rows: "B01", places: machine, sizes: whole, lasts: [2]time.Duration{200 * time.Millisecond, 24 * time.Hour}, again: true},
	{what: "outputs-deaf", rows: "B02", places: machine, sizes: whole, lasts: [2]time.Duration{time.Second, 10 * time.Minute}, again: true},
	{what: "expander-gone", rows: "B04", places: pumps, sizes: whole, lasts: [2]time.Duration{time.Second, 24 * time.Hour}, again: true},
	{what: "network-down", rows: "F58", places: machine, sizes: whole, lasts: days(0.1, 7)},
}

// clockJump is set right by a second one, which makes it the only fault that
// takes two entries.
const clockJump = "clock-jump"

var whole = [2]float64{all, all}

func days(low, high float64) [2]time.Duration {
	return [2]time.Duration{time.Duration(low * 24 * float64(time.Hour)), time.Duration(high * 24 * float64(time.Hour))}
}

func kindOf(what string) *kind {
	return &kinds[slices.IndexFunc(kinds, func(k kind) bool { return k.what == what })]
}

// leaky is how many of the faults drawn are leaks beside those drawn evenly with all
// others: what they do depends on their size and on every sensor.
const leaky = 0.15

func drawKind(r *rand.Rand) *kind {
	if chance(r, leaky) {
		return kindOf(pick(r, "table-leak", "hose-off", "reservoir-leak"))
	}
	return &kinds[r.IntN(len(kinds))]
}

func (k *kind) size(r *rand.Rand) float64 {
	size := between(r, k.sizes[0], k.sizes[1])
	if k.small && chance(r, 0.5) {
		size = math.Exp(between(r, math.Log(k.sizes[0]), math.Log(all)))
	}
	size = math.Round(1000*min(size, all)) / 1000
	if k.signed && chance(r, 0.5) {
		size = -size
	}
	return size
}

func (k *kind) duration(r *rand.Rand) time.Duration {
	low, high := math.Log(float64(k.lasts[0])), math.Log(float64(k.lasts[1]))
	return time.Duration(math.Exp(between(r, low, high))).Round(100 * time.Millisecond)
}

func machine(*config.Site) []string { return []string{""} }

// valves lists the benches whose drain has one.
func valves(s *config.Site) (names []string) {
	for i := range s.Benches {
		if d := &s.Benches[i].Drain; !d.ThroughPump && !d.Always {
			names = append(names, s.Benches[i].Name)
		}
	}
	return names
}

func thermometers(s *config.Site) (names []string) {
	for i := range s.Reservoirs {
		if s.Reservoirs[i].Thermometer != "" {
			names = append(names, s.Reservoirs[i].Name)
		}
	}
	return names
}

func lows(s *config.Site) (names []string) {
	for i := range s.Reservoirs {
		if s.Reservoirs[i].Low != nil {
			names = append(names, s.Reservoirs[i].Name)
		}
	}
	return names
}

func pumps(s *config.Site) (names []string) {
	for i := range s.Benches {
		names = append(names, s.Outputs[s.Benches[i].Pump].Name)
	}
	return names
}

func outputs(s *config.Site) (names []string) {
	for i := range s.Outputs {
		if k := s.Outputs[i].Kind; k == config.Pump || k == config.EnableCoil {
			names = append(names, s.Outputs[i].Name)
		}
	}
	return names
}

func full(b *config.Bench) *config.Switch { return b.Full }
func high(b *config.Bench) *config.Switch { return b.High }

// with lists the benches that have a switch.
func with(fitted func(*config.Bench) *config.Switch) func(*config.Site) []string {
	return func(s *config.Site) (names []string) {
		for i := range s.Benches {
			if fitted(&s.Benches[i]) != nil {
				names = append(names, s.Benches[i].Name)
			}
		}
		return names
	}
}

func switches(s *config.Site) (names []string) {
	for i := range s.Benches {
		b := &s.Benches[i]
		for _, sw := range []struct {
			name string
			*config.Switch
		}{{"full", b.Full}, {"high", b.High}, {"empty", b.Empty}, {"leak", b.Leak}} {
			if sw.Switch != nil {
				names = append(names, b.Name+"."+sw.name)
			}
		}
	}
	for _, low := range lows(s) {
		names = append(names, low+".low")
	}
	return names
}
