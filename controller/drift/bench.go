package drift

import (
	"math"
	"time"
)

// Litres is a volume of water.
type Litres float64

// Bench is what the times are corrected by: how much the pots are expected to
// drink while the table fills and falls.
type Bench struct {
	Fills   Litres  // on the table when FULL is made
	Falls   Litres  // between the peak of a flood and FULL
	Area    float64 // m² of the table
	Empty   bool    // an EMPTY switch is fitted
	Batches []Batch
	Windows Windows
}

// Batch is a set of pots on the bench.
type Batch struct {
	Since, Until time.Time // it stands from Since to before Until; zero Until means for good
	Holds        Litres    // all its pots at container capacity
}

// What plants use and pots drink; all are common practice, no source.
const (
	fullUse    = 6.0             // L/m² a day of a table that plants cover
	seedling   = 0.1             // of that at transplant
	covers     = 42 * 24         // hours until they cover it
	easily     = 0.5             // of container capacity that a pot gives up between floods
	soaks      = 5 * time.Minute // time constant of a pot in water
	inContact  = 0.6             // of a fill during which the water stands at the pots
	lightFrom  = 6 * time.Hour   // after midnight, when plants begin to use water
	lightHours = 14 * time.Hour  // a day
	wholeDay   = 24 * time.Hour
)

// onBench says whether the batch is on the bench.
func (b Batch) onBench(at time.Time) bool {
	return !at.Before(b.Since) && (b.Until.IsZero() || at.Before(b.Until))
}

// tenantsAt identifies the pots that stand on the bench: it changes when a batch
// comes or goes.
func (b Bench) tenantsAt(at time.Time) (set uint64) {
	for i, batch := range b.Batches {
		if batch.onBench(at) {
			set |= 1 << (i % 64)
		}
	}
	return set
}

// drunk is what the pots drink while the table fills and while it falls, over
// the litres that fill it and that fall.
func (b Bench) drunk(f Flood) (filling, falling float64) {
	missing := float64(b.missing(f))
	if missing == 0 || b.Fills <= 0 || b.Falls <= 0 {
		return 0, 0
	}
	left := math.Exp(-inContact * float64(f.Fill) / float64(soaks))
	filling = missing * (1 - left) / float64(b.Fills)
	left *= math.Exp(-float64(f.Hold) / float64(soaks))
	return filling, missing * left * (1 - math.Exp(-float64(f.Fall)/float64(soaks))) / float64(b.Falls)
}

// missing is what plants are expected to have used since the last flood.
func (b Bench) missing(f Flood) Litres {
	var holds, grown Litres
	for _, batch := range b.Batches {
		if batch.onBench(f.At) {
			holds += batch.Holds
			grown += batch.Holds * Litres(min(1, seedling+(1-seedling)*f.At.Sub(batch.Since).Hours()/covers))
		}
	}
	if holds == 0 {
		return 0
	}
	used := Litres(fullUse*b.Area*daylight(f.At.Add(-f.Gap), f.At)) * grown / holds
	return min(used, easily*holds)
}

// daylight is how many days' light lies between two times, by the wall clock
// of the bench.
func daylight(from, to time.Time) float64 {
	return lit(to) - lit(from)
}

func lit(t time.Time) float64 {
	_, offset := t.Zone()
	civil := time.Duration(t.Unix()+int64(offset)) * time.Second
	days := civil / wholeDay
	return float64(days) + float64(min(max(civil-days*wholeDay-lightFrom, 0), lightHours))/float64(lightHours)
}
