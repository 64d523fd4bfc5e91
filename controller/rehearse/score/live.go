package score

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/rehearse"
	"benchtide/controller/rehearse/campaign"
	"benchtide/controller/sheet"
	"benchtide/safety"
	"benchtide/schedule"
)

const (
	days   = 60                 // that a bench is lived on
	begins = 366 - days - week  // days of the year on which a life may begin
	reads  = safety.Litres(0.5) // how finely a person reads what they poured (common practice, no source)
)

// firstDay is that of the year in which every drawn site has plants.
var firstDay = schedule.DateOf(2026, time.January, 1)

// live lives on bench i, has its figures stated and judges them.
func (o *Options) live(ctx context.Context, i int) (l lived) {
	r := rand.New(rand.NewPCG(o.Seed, uint64(i)))
	b, err := campaign.DrawBuilt(ctx, r)
	if err != nil {
		return lived{err: err}
	}
	s := rehearse.Plain(firstDay.AddDays(r.IntN(begins)), days, r.Uint64())
	s.Nature = o.Nature
	e, t, err := witnessed(ctx, &b, &s)
	if err != nil || e == nil {
		return lived{refused: err == nil, err: err}
	}
	stated, err := e.State()
	return lived{outcomes: judge(stated, t.of(b.Site)), err: err}
}

// witnessed lives on a bench: what its people and its program have of it then, and
// what a judge saw. It is nil where commissioning would refuse the bench.
func witnessed(ctx context.Context, b *campaign.Built, s *rehearse.Scenario) (*Evidence, *truth, error) {
	file, problems := config.Parse("bench.yaml", []byte(b.File))
	if err := problems.Err(); err != nil {
		return nil, nil, err
	}
	site, refused, err := rehearse.Timed(ctx, file, b.Site, s)
	if err != nil || len(refused) > 0 {
		return nil, nil, err
	}
	e := &Evidence{
		File: b.File, Timed: map[string]sheet.Cycle{site.Benches[0].Name: site.Benches[0].Cycle},
		From: s.From,
	}
	for _, r := range rehearse.Days(b.Site, s, settled).Days {
		humidity, _ := r.Humidity.Get()
		e.Air = append(e.Air, Air{r.Low, r.High, humidity})
	}
	t := &truth{start: s.From.At(0).In(site.Zone)}
	options := rehearse.Options{
		Built: b.Site, Timed: true, NoRows: true, NoDrift: true, Publish: true, Reads: reads,
		Each: func(m rehearse.Observation) { e.note(&m); t.see(&m) },
		Poured: func(at time.Time, litres safety.Litres) {
			e.TopUps = append(e.TopUps, grow.Entry{At: at, Kind: grow.TopUp, Value: float64(litres)})
		},
	}
	if _, err := rehearse.Run(ctx, site, *s, options); err != nil {
		return nil, nil, err
	}
	if t.flooding, err = rehearse.Gauge(ctx, file, b.Site, 0, s); err != nil {
		return nil, nil, err
	}
	if err := t.dry(ctx, b.Site, site, s); err != nil {
		return nil, nil, fmt.Errorf("let the pots dry: %w", err)
	}
	return e, t, nil
}

// note has the record of a turn.
func (e *Evidence) note(m *rehearse.Observation) {
	if p := m.Turn.Snapshot; p != nil {
		st := &p.Status.Reservoirs[0]
		e.Stocks = append(e.Stocks, Stock{m.True, float64(st.Litres), nine * float64(st.Give), st.Basis != controller.Unknown})
	}
	for i := range m.Turn.Events {
		switch v := &m.Turn.Events[i]; v.Kind {
		case controller.ReservoirWeighed:
			e.Weighed = append(e.Weighed, v.Weighing)
		case controller.PumpStopped:
			if v.Flood.Counted {
				e.Counted = append(e.Counted, controller.LastFlood{Ended: m.True, Dated: true, Hold: v.Flood.Hold})
			}
		}
	}
}
