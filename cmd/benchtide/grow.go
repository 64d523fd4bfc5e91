package main

import (
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/schedule/demand"
)

// reserve is what has to be in a reservoir for its largest flood to start.
func reserve(site *config.Site, reservoir int) demand.Litres {
	r := site.Reservoirs[reservoir]
	least := max(r.Keep, r.LowAt)
	for i, b := range site.Benches {
		if b.Reservoir == reservoir {
			least = max(least, r.Keep+site.Sheet(i).VFlood)
		}
	}
	return demand.Litres(least)
}

// growSite is a site as advice on its plants knows it, and what had to be
// assumed for that.
func growSite(site *config.Site) (*grow.Site, []string, error) {
	calendar, err := site.Calendar()
	if err != nil {
		return nil, nil, err
	}
	climate, place, assumed := site.Weather()
	g := &grow.Site{Calendar: calendar, Plans: site.Plans, Place: place, Line: climate.Line}
	for i := range site.Benches {
		g.Falls = append(g.Falls, site.Sheet(i).Fall)
	}
	for i, b := range site.Batches {
		d, err := site.Demand(i)
		if err != nil {
			return nil, nil, err
		}
		g.Batches = append(g.Batches, grow.Batch{Batch: b.Batch, Demand: d})
	}
	for _, l := range site.Lamps {
		g.Lamps = append(g.Lamps, grow.Lamp{Lamps: l.Lamps, Flux: l.Flux})
	}
	return g, assumed, nil
}
