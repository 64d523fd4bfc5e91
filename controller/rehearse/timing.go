package rehearse

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// Timed is the site as it is once its benches were timed: on a bench that nature
// drew, the figures of the file are what one builds by, and a person times its
// floods before it floods by itself. It is timed as a person does it who commissions
// it: by a stop watch, by what FULL shows, by the scale of the tank and by a rule in
// the water that stands. A bench without FULL keeps the figures of the file. So does one
// whose FULL the water does not reach, or that by these figures could not be: they are
// the benches that commissioning would refuse, and their names are returned, too.
// built is the site as it stands.
func Timed(ctx context.Context, site, built *config.Site, scenario *Scenario) (*config.Site, []string, error) {
	if scenario.Nature == nil || len(scenario.Nature.Rows) == 0 {
		return site, nil, nil
	}
	var refused []string
	for i := range site.Benches {
		cycle, err := timeBench(ctx, site, built, i, scenario)
		if err != nil {
			return nil, nil, fmt.Errorf("time the floods of bench %q: %w", site.Benches[i].Name, err)
		}
		better, err := site.WithCalibration(map[string]sheet.Cycle{site.Benches[i].Name: cycle})
		if err == nil {
			site = better
		}
		if site.Benches[i].Full != nil && (err != nil || cycle.Fill == 0 || cycle.Fall == 0) {
			refused = append(refused, site.Benches[i].Name)
		}
	}
	return site, refused, nil
}

const (
	timings  = 3               // floods that are timed, after one that wets the pots
	tries    = 3               // times that they are timed anew where they disagree
	glance   = 2 * time.Minute // between two looks at water that is to stand still
	glances  = 10              // at most
	still    = 0.0005          // m that it rises between them where it does, as far as an eye sees
	patience = 3 * time.Hour   // for FULL to change
	thumb    = time.Second     // as finely as a hand stops a watch
)

// timeBench is what the floods of bench i came to, as commissioning takes it from
// them; zero where FULL did not change, and but the middle of their times where they
// disagree whenever they are timed.
func timeBench(ctx context.Context, site, built *config.Site, i int, scenario *Scenario) (sheet.Cycle, error) {
	if site.Benches[i].Full == nil {
		return sheet.Cycle{}, nil
	}
	v, err := visit(site, built, i, scenario)
	if err != nil {
		return sheet.Cycle{}, err
	}
	bench, cycle := site.BenchOn(i, scenario.From), sheet.Cycle{}
	if _, err = v.flood(ctx); err != nil {
		return cycle, err
	}
	for range tries {
		var floods []sheet.Timed
		for range timings {
			f, err := v.flood(ctx)
			if err != nil {
				return sheet.Cycle{}, err
			}
			floods = append(floods, f)
		}
		cycle = sheet.Cycle{
			Fill: middle(floods, func(f sheet.Timed) time.Duration { return f.Fill }),
			Fall: middle(floods, func(f sheet.Timed) time.Duration { return f.Fall }),
		}
		if cycle.Fill == 0 || cycle.Fall == 0 {
			return cycle, nil
		}
		if c, err := sheet.Calibrate(bench, floods); err == nil {
			return c.Cycle, nil
		}
	}
	return cycle, nil
}

// middle is the median of a time, or nothing where one flood had none.
func middle(floods []sheet.Timed, of func(sheet.Timed) time.Duration) time.Duration {
	var times []time.Duration
	for _, f := range floods {
		times = append(times, of(f))
	}
	slices.Sort(times)
	if times[0] <= 0 {
		return 0
	}
	return times[len(times)/2]
}

// person is somebody beside a bench who runs its pump and watches its FULL.
type person struct {
	world    *sim.World
	guard    *safety.Guard
	want     *safety.Want
	readings *safety.Readings
	bench    int
	tank     int
	floods   int64
	rest     time.Duration
	litre    float64 // litres in the reservoir where its scale shows one more
	hose     float64 // litres in the hose while the pump runs, which the simulated one does not hold
	bare     float64 // m of water on a table that this person calls bare
}

// visit puts a person beside bench i of the site before it goes on by itself. Their
// guard has no window for the fill, which is what they are about to find out.
func visit(site, built *config.Site, i int, scenario *Scenario) (*person, error) {
	_, _, start, _ := scenario.span(site.Zone)
	world, err := sim.New(worldConfig(built, start, scenario))
	if err != nil {
		return nil, err
	}
	limits := site.Limits()
	limits.Benches = slices.Clone(limits.Benches)
	b := &limits.Benches[i]
	rest := b.Drain + 10*time.Minute
	b.Full, b.Empty = false, false // the person watches them
	b.Fill, b.Over, b.MaxHold, b.DailyRun = patience, patience, patience, 24*time.Hour
	b.Flow, b.ToFull, b.ToCrest = 1e-6, 0, 0
	limits.Reservoirs = slices.Clone(limits.Reservoirs)
	for k := range limits.Reservoirs {
		limits.Reservoirs[k].Low, limits.Reservoirs[k].Level = false, false
	}
	supply, tank := &built.Benches[i].Supply, site.Benches[i].Reservoir
	v := &person{
		world: world, want: safety.NewWant(limits), readings: safety.NewReadings(limits), bench: i, tank: tank, rest: rest,
		litre: world.Truth().Reservoirs[tank].Litres / float64(built.Reservoirs[tank].Usable),
		hose:  math.Pi / 4 * float64(supply.Bore*supply.Bore*supply.Length) * 1000,
		bare:  calledBare[0] + (calledBare[1]-calledBare[0])*rand.New(rand.NewPCG(scenario.Seed, uint64(i))).Float64(),
	}
	v.guard = safety.New(limits, safety.State{}, world.Now(), "")
	return v, nil
}

// calledBare is between which depths of water, in metres, people call a table bare
// (common practice, no source).
var calledBare = [2]float64{0.0005, 0.002}

// scale is the litres in the reservoir as it shows them.
func (v *person) scale() quantity.Litres {
	return quantity.Litres(math.Round(v.world.Truth().Reservoirs[v.tank].Litres / v.litre))
}

// flood lets the water stand still over the crest and tells what a person times and
// reads meanwhile, as commissioning asks for it. A Fill or Fall that never came is
// below 0.
func (v *person) flood(ctx context.Context) (f sheet.Timed, err error) {
	if err = v.start(ctx); err != nil {
		return f, err
	}
	before := v.scale()
	if f.Fill, err = v.until(ctx, safety.Wet, patience); err != nil || f.Fill < 0 {
		v.want.Benches[v.bench].Pump = false
		f.Fall = -1
		return f, err
	}
	if err = v.settle(ctx); err != nil {
		return f, err
	}
	f.Drawn = before - v.scale() + quantity.Litres(math.Round(v.hose))
	f.Settle = quantity.Metres(math.Round(1000*v.world.Depth(v.bench)) / 1000)
	v.want.Benches[v.bench].Pump = false
	stopped := v.world.Now().Mono
	if f.Fall, err = v.until(ctx, safety.Dry, patience); err != nil || f.Fall < 0 {
		return f, err
	}
	f.Fill, f.Fall = f.Fill.Round(thumb), f.Fall.Round(thumb)
	if bare, err := v.drained(ctx, v.bare); err != nil || bare {
		f.Drain = (v.world.Now().Mono - stopped).Round(thumb)
		return f, err
	}
	return f, nil
}

// start has the pump run once the flood before is home; where a reading never comes the
// table has drained by then.
func (v *person) start(ctx context.Context) error {
	if _, err := v.until(ctx, safety.Fault, 2*v.rest); err != nil {
		return err
	}
	v.floods++
	v.want.Benches[v.bench] = safety.RunWant{Pump: true, Flood: v.floods, Hold: patience}
	return nil
}

// settle waits until the water stands still over the crest, as far as an eye sees.
func (v *person) settle(ctx context.Context) error {
	for range glances {
		stood := v.world.Depth(v.bench)
		if _, err := v.until(ctx, safety.Fault, glance); err != nil {
			return err
		}
		if v.world.Depth(v.bench)-stood < still {
			return nil
		}
	}
	return nil
}

// drained waits until the water on the table is down to a depth in metres.
func (v *person) drained(ctx context.Context, depth float64) (bool, error) {
	took, err := v.when(ctx, patience, time.Second, func() bool { return v.world.Depth(v.bench) <= depth })
	return took >= 0, err
}

// until waits until FULL reads so, and tells how long that took; below 0 when it
// did not within limit.
func (v *person) until(ctx context.Context, level safety.Level, limit time.Duration) (time.Duration, error) {
	return v.when(ctx, limit, time.Minute, func() bool { return v.readings.Benches[v.bench].Full.Level == level })
}

// when waits until something is so, looking at least every so often.
func (v *person) when(ctx context.Context, limit, every time.Duration, so func() bool) (time.Duration, error) {
	from := v.world.Now().Mono
	for {
		now := v.world.Now()
		v.world.Read(now, v.readings)
		if so() {
			return now.Mono - from, nil
		}
		if now.Mono >= from+limit {
			return -1, nil
		}
		v.guard.Observe(now, v.readings)
		v.guard.TakeEvents()
		if err := v.world.Apply(v.guard.Allow(now, v.want)); err != nil {
			return 0, err
		}
		next := max(v.guard.Next(), now.Mono+time.Millisecond)
		if err := v.world.Wait(ctx, min(from+limit, next, now.Mono+every), nil); err != nil {
			return 0, err
		}
	}
}
