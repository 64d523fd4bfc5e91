package rehearse

import (
	"time"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/schedule"
)

// burning is a lamp and what its light evaporates on a day of each month, L/m².
type burning struct {
	schedule.Lamps
	daily [13]float64
}

// lampsOf are the lamps of a site whose light is known.
func lampsOf(site *config.Site) (all []burning) {
	climate, place, _ := site.Weather()
	for _, l := range site.Lamps {
		if l.Flux == 0 {
			continue
		}
		b := burning{Lamps: l.Lamps}
		for m := time.January; m <= time.December; m++ {
			b.daily[m] = float64(grow.Lamp{Lamps: l.Lamps, Flux: l.Flux}.Evaporates(climate.Line(m), place))
		}
		all = append(all, b)
	}
	return all
}

// lamps gives what the lamps of a site evaporate between two times since its start,
// evenly while they burn; nil where they evaporate nothing.
func lamps(site *config.Site, start schedule.Civil) func(from, to time.Duration) float64 {
	all := lampsOf(site)
	if len(all) == 0 {
		return nil
	}
	since := func(c schedule.Civil) time.Duration { return time.Duration(c-start) * time.Second }
	return func(from, to time.Duration) (litres float64) {
		for _, l := range all {
			for d := (start + schedule.Civil(from/time.Second)).Date() - 1; since(d.At(0)) < to; d++ {
				on, off, _ := l.Hours(d)
				if burns := min(to, since(off)) - max(from, since(on)); burns > 0 {
					litres += l.daily[d.Month()] * float64(burns) / float64(since(off)-since(on))
				}
			}
		}
		return litres
	}
}
