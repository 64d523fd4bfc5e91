package sim_test

import (
	"context"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/hw/hydraulics"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// The outputs of oneBench.
const (
	pump = iota
	stirrer
	enable
)

// oneBench is a site with everything fitted.
func oneBench() sim.Config {
	return sim.Config{
		Outputs: []sim.Output{
			{Name: "flood_pump", Kind: safety.FloodPump, Enable: enable},
			{Name: "stirrer", Kind: safety.Stirrer, Enable: enable},
			{Name: "enable", Kind: safety.Enable, Enable: -1},
		},
		Reservoirs: []sim.Reservoir{{
			Name: "tank", Usable: 200, Keep: 20, Capacity: 240, Strength: 1.2,
			Low: sim.Contact{Fitted: true}, LowAt: 140, Thermometer: true,
		}},
		Benches: []sim.Bench{{
			Name: "north", Length: 2.4, Width: 1.2, Rim: 0.075, Crest: 0.030, Bore: 0.050,
			Supply: sim.Supply{Bore: 0.019, Length: 3, Lift: 0.8, MaxHead: 2.2, MaxFlow: hydraulics.LitresPerHour(2000)},
			Drain:  sim.Drain{ThroughPump: true},
			Full:   sim.Float{Contact: sim.Contact{Fitted: true}, At: 0.026},
			High:   sim.Float{Contact: sim.Contact{Fitted: true, WaterOpens: true}, At: 0.052},
			Empty:  sim.Float{Contact: sim.Contact{Fitted: true}, At: 0.006},
			Leak:   sim.Contact{Fitted: true},
			Batches: []sim.Pots{{
				Name: "basil", Count: 96, Top: 0.09, Volume: 0.35, Substrate: sim.Peat,
			}},
		}},
		Stirrers: []sim.Stirrer{{Output: stirrer, Reservoir: 0}},
		HandsIn:  true,
		Start:    time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC),
		Uptime:   time.Minute,
		Seed:     1,
	}
}

func world(t require.TestingT, c sim.Config) *sim.World {
	w, err := sim.New(c)
	require.NoError(t, err)
	return w
}

func readings(w *sim.World) *safety.Readings {
	r := safety.NewReadings(w.Shape())
	w.Read(w.Now(), r)
	return r
}

// until waits like a program does until a condition on the readings holds, and
// gives the boot-time clock then.
func until(t require.TestingT, w *sim.World, limit time.Duration, holds func(*safety.Readings) bool) time.Duration {
	end := w.Now().Mono + limit
	for !holds(readings(w)) {
		require.Less(t, w.Now().Mono, end, "waited too long")
		require.NoError(t, w.Wait(context.Background(), end, nil))
	}
	return w.Now().Mono
}
