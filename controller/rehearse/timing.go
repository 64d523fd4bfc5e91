package rehearse

import (
	"context"
	"fmt"
	"slices"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/sheet"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// Timed is the site as it is once its benches were timed: on a bench that nature
// drew, the figures of the file are what one builds by, and a person times its
// floods before it floods by itself. It is timed as a person does it, by a stop
// watch and by what FULL shows. A bench without FULL keeps the figures of the file. So does one
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
	standing = 3 * time.Minute // from FULL until the pump stops, so that the water stands over the crest
	patience = 3 * time.Hour   // for FULL to change
	thumb    = time.Second     // as finely as a hand stops a watch
)

// timeBench is the middle of what the floods of bench i took; zero where FULL did
// not change.
func timeBench(ctx context.Context, site, built *config.Site, i int, scenario *Scenario) (sheet.Cycle, error) {
	if site.Benches[i].Full == nil {
		return sheet.Cycle{}, nil
	}
	v, err := visit(site, built, i, scenario)
	if err != nil {
		return sheet.Cycle{}, err
	}
	var fills, falls []time.Duration
	for flood := range int64(1 + timings) {
		fill, fall, err := v.flood(ctx, flood+1)
		if err != nil {
			return sheet.Cycle{}, err
		}
		if flood > 0 {
			fills, falls = append(fills, fill), append(falls, fall)
		}
	}
	return sheet.Cycle{Fill: middle(fills), Fall: middle(falls)}, nil
}

// middle is the median to what a watch tells, or nothing where one flood had none.
func middle(times []time.Duration) time.Duration {
	slices.Sort(times)
	if times[0] <= 0 {
		return 0
	}
	return times[len(times)/2].Round(thumb)
}

// person is somebody beside a bench who runs its pump and watches its FULL.
type person struct {
	world    *sim.World
	guard    *safety.Guard
	want     *safety.Want
	readings *safety.Readings
	bench    int
	rest     time.Duration
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
	v := &person{world: world, want: safety.NewWant(limits), readings: safety.NewReadings(limits), bench: i, rest: rest}
	v.guard = safety.New(limits, safety.State{}, world.Now(), "")
	return v, nil
}

// flood runs the pump until FULL stood for a while, and tells how long FULL took
// to be made and to clear: below 0 where it did not.
func (v *person) flood(ctx context.Context, id int64) (fill, fall time.Duration, err error) {
	if _, err = v.until(ctx, safety.Fault, 2*v.rest); err != nil { // a reading that never comes: the table drains
		return 0, 0, err
	}
	v.want.Benches[v.bench] = safety.RunWant{Pump: true, Flood: id, Hold: patience}
	if fill, err = v.until(ctx, safety.Wet, patience); err != nil || fill < 0 {
		v.want.Benches[v.bench].Pump = false
		return fill, -1, err
	}
	if _, err = v.until(ctx, safety.Fault, standing); err != nil {
		return 0, 0, err
	}
	v.want.Benches[v.bench].Pump = false
	fall, err = v.until(ctx, safety.Dry, patience)
	return fill, fall, err
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
