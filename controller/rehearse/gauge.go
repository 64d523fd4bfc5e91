package rehearse

import (
	"context"
	"fmt"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/hw/sim"
	"benchtide/safety"
	"benchtide/schedule/demand"
)

// Flooding is what a flood of a bench really comes to, which nobody but a judge can
// read off the simulated world. A time of 0 never came.
type Flooding struct {
	Fill, Fall, Drain time.Duration          // pump start to FULL made; pump stop to FULL clear, and to a bare table
	Flow              quantity.LitresPerHour // lifted until FULL was made, what fills the hose included, over Fill
	Head              quantity.Metres        // of the water over the crest as the pump stops, standing still
}

// Gauge floods bench i of a site that stands as built, after the floods by which it
// was timed and in the same world, until its pots are wet, and reads the next flood. The
// bench has FULL.
func Gauge(ctx context.Context, site, built *config.Site, i int, scenario *Scenario) (Flooding, error) {
	v, err := visit(site, built, i, scenario)
	if err != nil {
		return Flooding{}, fmt.Errorf("gauge bench %q: %w", site.Benches[i].Name, err)
	}
	var f Flooding
	for range 1 + timings {
		if f, err = v.gauged(ctx, float64(built.Benches[i].Standpipe.Crest)); err != nil {
			return Flooding{}, fmt.Errorf("gauge bench %q: %w", site.Benches[i].Name, err)
		}
	}
	f.Head = max(0, f.Head)
	return f, nil
}

// bareTable is the depth at which a table counts as bare, in metres, as the bench
// sheet has it.
const bareTable = 0.001

// gauged is one flood of the person's, with a judge beside it.
func (v *person) gauged(ctx context.Context, crest float64) (f Flooding, err error) {
	if err = v.start(ctx); err != nil {
		return f, err
	}
	moved := v.world.Totals.Moved
	if f.Fill, err = v.until(ctx, safety.Wet, patience); err != nil {
		return f, err
	}
	if f.Fill > 0 {
		f.Flow = quantity.LitresPerHour((v.world.Totals.Moved - moved + v.hose) / f.Fill.Hours())
		if err = v.settle(ctx); err != nil {
			return f, err
		}
	}
	f.Head = quantity.Metres(v.world.Depth(v.bench) - crest)
	v.want.Benches[v.bench].Pump = false
	stopped := v.world.Now().Mono
	if f.Fall, err = v.until(ctx, safety.Dry, patience); err != nil {
		return f, err
	}
	if bare, err := v.drained(ctx, bareTable); err == nil && bare {
		f.Drain = v.world.Now().Mono - stopped
	}
	return f, err
}

// Days are the first of a scenario's days as a sensor of temperature and humidity
// among the plants of a site that stands as built has them on record; none where the
// scenario brings records of its own.
func Days(built *config.Site, scenario *Scenario, n int) (r demand.Records) {
	from, _, _, _ := scenario.span(built.Zone)
	if w, ok := weather(built, from, scenario).(*sim.Days); ok {
		for i := range n {
			r.Days = append(r.Days, w.Record(i))
		}
	}
	return r
}
