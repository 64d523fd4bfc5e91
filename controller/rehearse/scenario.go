package rehearse

import (
	"strings"
	"time"

	"benchtide/hw/sim"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Scenario is what a rehearsal plays.
type Scenario struct {
	From     schedule.Date // begins at midnight, local time
	Days     int
	Seed     uint64
	Weather  string          // a key of Weathers, or the name of a file of days on record; "" means normal
	Records  *demand.Records // of that file
	Nature   *Nature         // what the simulated site draws its own figures from; nil is the plain bench
	Attended bool            // a grower refills the reservoirs and does the proof tests
	Faults   []Fault
	Acts     []Act
}

// Nature is what a simulated site draws its own figures from.
type Nature = sim.Nature

// Fault is one thing that goes wrong.
type Fault struct {
	What  string
	Where string // an output, a switch as bench.full, a bench or a reservoir; "" for the machine
	At    time.Time
	For   time.Duration // 0 means until the end, or the fault's own time
	Over  time.Duration // it grows evenly from nothing to Size; 0 means all of it at once
	Size  float64       // 0 to 1 of the worst; of a clock-jump -1 to 1 of For
}

// Act is one thing that a person does.
type Act struct {
	Do    string // a key of acts
	Where string // a bench, or a reservoir for top-up; "" for what concerns the site
	At    time.Time
	Found string        // for reset: what the person found
	Until time.Time     // for pause
	For   time.Duration // for hands-in; 0 means until it is ended
	On    bool          // for hands-in: whether it begins or ends
	Hold  time.Duration // for flood; 0 means that of the stage
}

// Plain returns the scenario of days with nothing but the schedule and the
// grower.
func Plain(from schedule.Date, days int, seed uint64) Scenario {
	return Scenario{From: from, Days: days, Seed: seed, Weather: usualWeather, Attended: true}
}

const usualWeather = "normal"

// RecordsFile returns the file of days on record that the scenario names as its
// weather, which Run wants to find in Records.
func (s *Scenario) RecordsFile() (string, bool) {
	return s.Weather, strings.HasSuffix(strings.ToLower(s.Weather), ".csv")
}

// longestDays bounds a scenario: ten years.
const longestDays = 3653

// span is when the scenario begins and ends, in the site's zone.
func (s *Scenario) span(zone *time.Location) (from, to schedule.Civil, start, end time.Time) {
	from, to = s.From.At(0), s.From.AddDays(s.Days).At(0)
	return from, to, from.In(zone), to.In(zone)
}
