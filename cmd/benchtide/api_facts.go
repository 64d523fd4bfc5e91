package main

import (
	"log/slog"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/controller/web"
	"benchtide/schedule"
)

// levels are the levels of events in the API.
var levels = map[slog.Level]string{slog.LevelInfo: "info", slog.LevelWarn: "warn", slog.LevelError: "error"}

// webNames lists what the indices of a status mean.
func webNames(site *config.Site, n controller.Names) web.Names {
	return web.Names{
		Names:   n,
		Plan:    func(p schedule.Planned) web.Planned { return plannedOf(site, &p) },
		FromDay: func(batch, stage int) int { return site.Plans[site.Batches[batch].Plan].Stages[stage].FromDay },
	}
}

// factsOf are the drawings of the benches and what they come to.
func factsOf(site *config.Site) web.Facts {
	f := web.Facts{
		Site: site.Name, Timezone: site.Zone.String(), Version: build().Version,
		Benches: []web.BenchFacts{}, Reservoirs: []web.ReservoirFacts{}, Batches: []web.BatchFacts{},
	}
	for i := range site.Benches {
		f.Benches = append(f.Benches, benchFacts(site, i))
	}
	for _, r := range site.Reservoirs {
		facts := web.ReservoirFacts{Name: r.Name, UsableL: float64(r.Usable), KeepL: float64(r.Keep)}
		if r.Low != nil {
			at := float64(r.LowAt)
			facts.LowL = &at
		}
		f.Reservoirs = append(f.Reservoirs, facts)
	}
	for _, b := range site.Batches {
		f.Batches = append(f.Batches, web.BatchFacts{
			Name: b.Name, Bench: site.Benches[b.Bench].Name, Plan: site.Plans[b.Plan].Name,
			Transplanted: b.Transplanted.String(), Pots: b.Pots.Count, PotTopMM: millimetres(b.Pots.Top),
		})
	}
	return f
}

func benchFacts(site *config.Site, i int) web.BenchFacts {
	b, sheet := &site.Benches[i], site.Sheet(i)
	return web.BenchFacts{
		Name: b.Name, Reservoir: site.Reservoirs[b.Reservoir].Name, Pump: site.Outputs[b.Pump].Name,
		LengthMM: millimetres(b.Table.Length), WidthMM: millimetres(b.Table.Width), RimMM: millimetres(b.Table.Rim),
		CrestMM: millimetres(b.Standpipe.Crest), BoreMM: millimetres(b.Standpipe.Bore), FullMM: height(b.Full), HighMM: height(b.High), EmptyMM: height(b.Empty),
		ThroughPump: b.Drain.ThroughPump, FloodL: float64(sheet.VFlood), FillS: sheet.Fill.Seconds(), FallS: sheet.Fall.Seconds(),
		DrainS: sheet.Drain.Seconds(), OverS: sheet.Over.Seconds(), FlowLPerHour: float64(sheet.Flow),
	}
}

func millimetres(m quantity.Metres) float64 { return thousandth(float64(m) * 1000) }

// height is where a switch turns; nil when it is not fitted.
func height(s *config.Switch) *float64 {
	if s == nil {
		return nil
	}
	at := millimetres(s.At)
	return &at
}
