package grow

import (
	"time"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Driest is the share of container capacity that pots may lack when they come
// to a bench (common practice, no source: half of it is easily available).
const Driest = 0.5

// Days are the days of a site, the weather of the last few kept: whoever asks what
// was drunk asks for the same days again and again. They are for one goroutine.
type Days struct {
	site *Site
	kept [mostKept]keptDay // by date modulo their number
}

const mostKept = 8

type keptDay struct {
	known   bool
	date    schedule.Date
	weather [len(Kinds)]demand.Weather
	err     error
}

// NewDays are those of a site that does not change any more.
func NewDays(s *Site) *Days { return &Days{site: s} }

func (d *Days) weather(on schedule.Date, k Kind) (demand.Weather, error) {
	day := &d.kept[uint64(on)%mostKept]
	if !day.known || day.date != on {
		day.known, day.date = true, on
		day.weather, day.err = d.site.weathers(on)
	}
	return day.weather[k], day.err
}

// Drunk is what the plants of a bench take from their pots between two times on
// days of a kind, in litres.
func (d *Days) Drunk(bench int, from, to time.Time, zone *time.Location, k Kind) (litres demand.Litres, err error) {
	for on := schedule.CivilIn(from, zone).Date(); ; on++ {
		midnight := on.At(0).In(zone)
		if !midnight.Before(to) {
			return litres, nil
		}
		w, err := d.weather(on, k)
		if err != nil {
			return 0, err
		}
		share := w.Shine.Between(within(from.Sub(midnight)), within(to.Sub(midnight)))
		for i := range d.site.Batches {
			if b := &d.site.Batches[i]; b.Bench == bench && b.stands(on) {
				litres += b.Demand.Wants(b.age(on), w) * demand.Litres(float64(b.Demand.Pots)*share)
			}
		}
	}
}

func within(t time.Duration) time.Duration { return min(max(t, 0), day) }

func (b *Batch) stands(d schedule.Date) bool {
	return b.Transplanted <= d && (b.Closed == 0 || d <= b.Closed)
}

// Lacking is what pots that came to a bench between two times may lack beside
// that, in litres.
func (s *Site) Lacking(bench int, from, to time.Time, zone *time.Location) (litres demand.Litres) {
	for i := range s.Batches {
		b := &s.Batches[i]
		if came := b.Transplanted.At(0).In(zone); b.Bench == bench && !came.Before(from) && came.Before(to) {
			litres += Driest * demand.Litres(b.Demand.Pots) * b.Demand.Pot.Holds()
		}
	}
	return litres
}
