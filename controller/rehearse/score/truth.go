package score

import (
	"cmp"
	"context"
	"math"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
)

// truth is what a judge saw of a bench: nothing of it reaches an estimate.
type truth struct {
	start    time.Time
	flooding rehearse.Flooding // of a flood from the mark
	stood    float64           // m, as the pump last stopped
	lived    time.Duration     // until FULL was made, of the first flood from the day on which it is judged
	falls    []fall            // of the floods from that day on
	out      float64           // the most litres that a flood had out at once
	held     map[int64]float64 // litres in the reservoir at the start of each flood
	gone     []gone            // what plants and air took, from the start on
	weighed  float64           // litres at the weighing that is judged
	limit    float64           // hours from the last flood of the settled record until pots are at their limit; 0 where they never were
}

// gone is what had gone by a time, and what the reservoir held.
type gone struct {
	at           time.Time
	litres, held float64
}

// see judges a turn.
func (t *truth) see(m *rehearse.Observation) {
	held := m.Litres(0)
	t.gone = append(t.gone, gone{m.True, m.Totals.Used + m.Totals.Evaporated, held})
	for i := range m.Turn.Events {
		e := &m.Turn.Events[i]
		switch e.Kind {
		case controller.PumpStarted:
			if t.held == nil {
				t.held = map[int64]float64{}
			}
			if _, known := t.held[e.Flood.ID]; !known {
				t.held[e.Flood.ID] = held
			}
		case controller.ReservoirWeighed:
			if t.weighed == 0 && !e.Weighing.At.Before(t.start.AddDate(0, 0, settled)) {
				t.weighed = t.held[e.Weighing.Flood]
			}
		case controller.FloodEnded:
			if f := &e.Flood; f.Fill > 0 && !f.Started.Before(t.start.AddDate(0, 0, fresh)) {
				t.lived = cmp.Or(t.lived, f.Fill)
				t.falls = append(t.falls, fall{t.stood, f.Fall})
			}
		case controller.PumpStopped:
			t.stood = m.Depth(0)
			t.out = max(t.out, t.held[e.Flood.ID]-held)
		}
	}
}

// fall is one, and how deep the water stood in metres as the pump stopped.
type fall struct {
	from float64
	took time.Duration
}

// stands is how near to the depth at which it stands still water has to be for the fall
// to be one of a flood that stood: 1 mm, as an eye sees it.
const stands = 0.001

// fell is the fall of the first flood that stood; 0 where none did. One that is held
// for less falls sooner, and is not what a sheet tells of.
func (t *truth) fell(crest float64) time.Duration {
	for _, f := range t.falls {
		if f.from >= crest+float64(t.flooding.Head)-stands {
			return f.took
		}
	}
	return 0
}

// fresh is after how many days a flood is judged by how the bench was timed: pots that
// came dry are wet by then, and pump and drain are as they were.
const fresh = 2

// thirsty is for how many days no flood comes, so that pots reach their limit.
const thirsty = 10

// dry lives on the same bench up to the settled record again, has it flood no more and
// sees when its pots reach their limit.
func (t *truth) dry(ctx context.Context, built, site *config.Site, s *rehearse.Scenario) error {
	from := s.From.AddDays(settled)
	batch := standing(site, from, thirsty)
	if batch < 0 {
		return nil
	}
	paused := *s
	paused.Days = settled + thirsty
	paused.Acts = []rehearse.Act{{Do: "pause", Where: site.Benches[0].Name, At: from.At(0).In(site.Zone), Until: from.AddDays(thirsty + 1).At(0).In(site.Zone)}}
	var flooded time.Time
	before := rehearse.Sample{}
	options := rehearse.Options{
		Built: built, Timed: true, NoRows: true, NoDrift: true,
		Each: func(m rehearse.Observation) {
			for i := range m.Turn.Events {
				if e := &m.Turn.Events[i]; e.Kind == controller.PumpStopped && e.Flood.Counted {
					flooded, t.limit = m.True, 0
				}
			}
		},
		Sample: func(at rehearse.Sample) {
			if now := at.Water[batch]; !flooded.IsZero() && t.limit == 0 && now < at.Limit[batch] && before.Water != nil {
				t.limit = crossing(&before, &at, batch).Sub(flooded).Hours()
			}
			before = at
		},
	}
	_, err := rehearse.Run(ctx, site, paused, options)
	return err
}

// crossing is when the pots of a batch passed their limit between two samples.
func crossing(a, b *rehearse.Sample, batch int) time.Time {
	share := (a.Water[batch] - b.Limit[batch]) / (a.Water[batch] - b.Water[batch])
	if !(share >= 0) {
		share = 0
	}
	return a.At.Add(time.Duration(min(1, share) * float64(b.At.Sub(a.At))))
}

// by is what had gone by a time; not a number where nobody saw it.
func (t *truth) by(at time.Time) float64 {
	for i := 1; i < len(t.gone); i++ {
		if a, b := t.gone[i-1], t.gone[i]; !b.at.Before(at) && b.at.After(a.at) {
			return a.litres + (b.litres-a.litres)*at.Sub(a.at).Seconds()/b.at.Sub(a.at).Seconds()
		}
	}
	return math.NaN()
}

// daily is what went a day in the week from so many days of record on.
func (t *truth) daily(days int) float64 {
	return (t.by(t.start.AddDate(0, 0, days+week)) - t.by(t.start.AddDate(0, 0, days))) / week
}

// lasted is for how many days from the settled record on the reservoir could still
// make the largest of its floods, were it not filled again; not a number where that
// is longer than it was lived on. Its switch turns at the litres of its own mark.
func (t *truth) lasted(r *config.Reservoir) float64 {
	from := t.start.AddDate(0, 0, settled)
	first := t.gone[0]
	least := max(float64(r.Keep)+t.out, float64(r.LowAt)*first.held/float64(r.Usable))
	held, taken := first.held, math.NaN()
	for _, g := range t.gone {
		if !g.at.After(from) {
			held, taken = g.held, g.litres
			continue
		}
		if g.litres-taken >= held-least {
			return g.at.Sub(from).Hours() / 24
		}
	}
	return math.NaN()
}

// of is what was true, by figure; 0 or not a number where nothing came true.
func (t *truth) of(built *config.Site) map[string]float64 {
	f := &t.flooding
	all := map[string]float64{
		"fill": t.lived.Seconds(), "fall": t.fell(float64(built.Benches[0].Standpipe.Crest)).Seconds(), "drain": f.Drain.Seconds(), "flow": float64(f.Flow),
		"V_flood": t.out, "overflow head": 1000 * float64(f.Head),
		"days of water left": t.lasted(&built.Reservoirs[0]), "hour at which pots reach their limit": t.limit, "litres weighed": t.weighed,
	}
	for _, f := range sheetFigures {
		all[f.name+" by file"] = all[f.name]
	}
	for _, u := range uses {
		all[u.figure] = t.daily(u.days)
	}
	return all
}
