package rehearse

import (
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/sheet"
	"benchtide/safety"
	"benchtide/schedule"
)

// Draws are what fills of a site take, worked out once for all its rehearsals.
// Make one for each goroutine.
type Draws struct{ found []drawn }

type drawn struct {
	bench int
	pots  []sheet.Pots
	draw  controller.Draw
}

// on is what a fill of a bench takes on a date; nothing where the sheet cannot
// tell.
func (d *Draws) on(site *config.Site, bench int, date schedule.Date) controller.Draw {
	pots := site.PotsOn(bench, date)
	for i := range d.found {
		if k := &d.found[i]; k.bench == bench && slices.Equal(k.pots, pots) {
			return k.draw
		}
	}
	var made controller.Draw
	if s, err := site.Draw(bench, pots); err == nil {
		made = controller.Draw{ToFull: safety.Litres(s.ToFull), Give: safety.Litres(s.Give), Curve: s.Curve, Holds: safety.Litres(s.Holds)}
	}
	d.found = append(d.found, drawn{bench, pots, made})
	return made
}

// of gives a controller the draws of a site.
func (d *Draws) of(site *config.Site) func(bench int, date schedule.Date) controller.Draw {
	return func(bench int, date schedule.Date) controller.Draw { return d.on(site, bench, date) }
}

// weighs gives a controller what it needs to weigh reservoirs.
func weighs(s *controller.Setup, site *config.Site) error {
	plants, _, err := outlook.Plants(site)
	if err != nil {
		return err
	}
	s.Draw = (&Draws{}).of(site)
	days := grow.NewDays(plants)
	for _, r := range site.Reservoirs {
		s.Bands = append(s.Bands, [2]float64{float64(r.LowBand), float64(r.LevelBand)})
		s.Surfaces = append(s.Surfaces, float64(r.Inside.Area()))
	}
	s.Drunk = func(bench int, from, to time.Time) controller.Drunk {
		normal, err := days.Drunk(bench, from, to, site.Zone, grow.Normal)
		hottest, errHot := days.Drunk(bench, from, to, site.Zone, grow.Hottest)
		if err != nil || errHot != nil {
			return controller.Drunk{}
		}
		return controller.Drunk{
			Normal:  safety.Litres(normal),
			Hottest: safety.Litres(hottest + plants.Lacking(bench, from, to, site.Zone)),
		}
	}
	s.PotsLast = func(batch int, f controller.LastFlood, most time.Duration) time.Duration {
		return potsLast(plants, batch, f, most, site.Zone)
	}
	return nil
}

// potsLast is how long pots last, and most where that cannot be worked out.
func potsLast(plants *grow.Site, batch int, f controller.LastFlood, most time.Duration, zone *time.Location) (lasts time.Duration) {
	var err error
	if f.Dated {
		lasts, err = plants.PotsLast(batch, f.Ended, f.Hold, most, f.Use, zone)
	} else {
		lasts, err = plants.PotsLastWhenever(batch, schedule.CivilIn(f.Ended, zone).Date(), f.Hold, most, f.Use)
	}
	if err != nil {
		return most
	}
	return lasts
}
