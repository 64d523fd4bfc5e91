package live

import (
	"log/slog"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/schedule"
)

// levels are the levels of events in the API.
var levels = map[slog.Level]string{slog.LevelInfo: "info", slog.LevelWarn: "warn", slog.LevelError: "error"}

// namesOf lists what the indices of a status mean.
func namesOf(site *config.Site, n controller.Names) Names {
	return Names{
		Names:   n,
		Plan:    func(p schedule.Planned) Planned { return plannedOf(site, &p) },
		FromDay: func(batch, stage int) int { return site.Plans[site.Batches[batch].Plan].Stages[stage].FromDay },
	}
}

// FactsOf are the drawings of the benches and what they come to.
func FactsOf(site *config.Site, version string) Facts {
	f := Facts{
		Site: site.Name, Units: site.Units, Timezone: site.Zone.String(), Version: version,
		Benches: []BenchFacts{}, Reservoirs: []ReservoirFacts{}, Batches: []BatchFacts{}, Called: site.Titles,
	}
	for i := range site.Benches {
		f.Benches = append(f.Benches, benchFacts(site, i))
	}
	for _, r := range site.Reservoirs {
		facts := ReservoirFacts{Name: r.Name, Title: site.Titles.Reservoirs[r.Name], UsableL: float64(r.Usable), KeepL: float64(r.Keep)}
		if r.Low != nil {
			at := float64(r.LowAt)
			facts.LowL = &at
		}
		f.Reservoirs = append(f.Reservoirs, facts)
	}
	for _, b := range site.Batches {
		facts := BatchFacts{
			Name: b.Name, Title: site.Titles.Batches[b.Name], Bench: site.Benches[b.Bench].Name,
			Plan: site.Plans[b.Plan].Name, PlanTitle: site.Titles.Plans[site.Plans[b.Plan].Name],
			Transplanted: b.Transplanted.String(), Pots: b.Pots.Count, PotTopMM: millimetres(b.Pots.Top),
		}
		if b.Sown != 0 {
			facts.Sown = b.Sown.String()
		}
		f.Batches = append(f.Batches, facts)
	}
	return f
}

func benchFacts(site *config.Site, i int) BenchFacts {
	b, sheet := &site.Benches[i], site.Sheet(i)
	return BenchFacts{
		Name: b.Name, Title: site.Titles.Benches[b.Name], Reservoir: site.Reservoirs[b.Reservoir].Name, Pump: site.Outputs[b.Pump].Name,
		LengthMM: millimetres(b.Table.Length), WidthMM: millimetres(b.Table.Width), RimMM: millimetres(b.Table.Rim),
		CrestMM: millimetres(b.Standpipe.Crest), BoreMM: millimetres(b.Standpipe.Bore), FullMM: height(b.Full), HighMM: height(b.High), EmptyMM: height(b.Empty),
		ThroughPump: b.Drain.ThroughPump, FloodL: float64(sheet.VFlood), FillS: sheet.Fill.Seconds(), FallS: sheet.Fall.Seconds(),
		DrainS: sheet.Drain.Seconds(), OverS: sheet.Over.Seconds(), FlowLPerHour: float64(sheet.Flow),
	}
}

func millimetres(m quantity.Metres) float64 { return quantity.Thousandth(float64(m) * 1000) }

// height is where a switch turns; nil when it is not fitted.
func height(s *config.Switch) *float64 {
	if s == nil {
		return nil
	}
	at := millimetres(s.At)
	return &at
}

func plannedOf(site *config.Site, f *schedule.Planned) Planned {
	row := controller.RowOf(controller.Flood{HasSlot: true, Slot: f.Slot.Local, Due: f.Due}, []string{site.Benches[f.Slot.Bench].Name}, site.Zone)
	b := site.Batches[f.Batch]
	return Planned{
		Bench: row.Bench, Slot: row.Slot, Due: row.Due, Batch: b.Name, FromDay: site.Plans[b.Plan].Stages[f.Stage].FromDay,
		HoldS: f.Hold.Seconds(), Strength: f.Strength, CanWaitS: f.CanWait.Seconds(),
	}
}

// CalendarOf is what is planned for some days.
func CalendarOf(site *config.Site, from schedule.Date, days int) (Calendar, error) {
	planned, err := site.Calendar()
	if err != nil {
		return Calendar{}, err
	}
	end := from.AddDays(days)
	c := Calendar{From: from.String(), Days: days, Floods: []Planned{}, Conflicts: []Conflict{}, Titles: site.Titles}
	for _, f := range planned.Between(from.At(0), end.At(0)) {
		c.Floods = append(c.Floods, plannedOf(site, &f))
	}
	withheld, err := site.Conflicts(from, end.AddDays(-1))
	if err != nil {
		return Calendar{}, err
	}
	for _, k := range withheld {
		c.Conflicts = append(c.Conflicts, Conflict{
			Bench: site.Benches[k.Bench].Name, Kind: k.Kind.String(), From: k.From.String(), To: k.To.String(), Detail: k.Detail,
		})
	}
	return c, nil
}
