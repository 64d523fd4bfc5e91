package grow

import (
	"time"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Driest is the share of container capacity that pots may lack when they come
// to a bench (common practice, no source: half of it is easily available).
const Driest = 0.5

// Drunk is what the plants of a bench take from their pots between two times on
// days of a kind, in litres.
func (s *Site) Drunk(bench int, from, to time.Time, zone *time.Location, k Kind) (litres demand.Litres, err error) {
	for d := schedule.CivilIn(from, zone).Date(); ; d++ {
		midnight := d.At(0).In(zone)
		if !midnight.Before(to) {
			return litres, nil
		}
		w, err := s.Weather(d, k)
		if err != nil {
			return 0, err
		}
		share := w.Shine.Between(within(from.Sub(midnight)), within(to.Sub(midnight)))
		for i := range s.Batches {
			if b := &s.Batches[i]; b.Bench == bench && b.stands(d) {
				litres += b.Demand.Wants(b.age(d), w) * demand.Litres(float64(b.Demand.Pots)*share)
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
