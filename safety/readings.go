package safety

import "time"

// Now is one reading of the three clocks, taken together.
type Now struct {
	Mono    time.Duration // boot-time clock; never steps, counts through suspend; the only clock of durations and limits
	Wall    time.Time     // civil time in UTC; may step
	Trusted bool          // whether Wall may be believed
}

// Level is what one switch says about the water.
type Level uint8

// The levels of a switch. Fault is a reading that failed: it counts as the
// unsafe one of Dry and Wet for whatever is being decided.
const (
	Absent Level = iota // no such switch on this bench
	Dry                 // no water at the switch
	Wet                 // water at the switch
	Fault               // fitted, but it could not be read
)

func (l Level) String() string { return [...]string{"absent", "dry", "wet", "fault"}[l] }

// Reading is one raw reading of a switch: the level, and the boot-time clock
// when it was last read successfully. A reading that failed has Level Fault
// and keeps the time of the last good one, so that it goes stale.
type Reading struct {
	Level Level
	At    time.Duration
}

// BenchReadings are the raw switch readings of one bench, by the place of the switch.
type BenchReadings struct {
	Full  Reading // just under the crest of the standpipe
	High  Reading // between crest and rim
	Empty Reading // on the table floor
	Leak  Reading // on the floor of the room
}

// ReservoirReadings are the raw readings of one reservoir.
type ReservoirReadings struct {
	Low         Reading // wet: the reservoir holds at least the switch's litres (table empty)
	Level       Reading // wet: it holds at least what the level switch turns at
	Temperature Celsius // of the solution; meaningful when TemperatureOK
	// TemperatureOK is false without a thermometer or when its value is not to be believed.
	TemperatureOK bool
}

// Readings are everything a board reads in one turn. Slices are indexed as in
// Limits and allocated once by NewReadings.
type Readings struct {
	Benches    []BenchReadings
	Reservoirs []ReservoirReadings
	HandsIn    Reading // the hands-in button: wet means pressed
}

// NewReadings returns Readings of the shape of l, every switch Absent.
func NewReadings(l Limits) *Readings {
	return &Readings{
		Benches:    make([]BenchReadings, len(l.Benches)),
		Reservoirs: make([]ReservoirReadings, len(l.Reservoirs)),
	}
}
