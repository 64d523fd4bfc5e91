package rehearse

import (
	"math/rand/v2"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/hw/sim"
)

// CropCauses are what a crop can suffer from in a rehearsal, by the names of people.
var CropCauses = [sim.Causes]string{sim.Dry: "dry", sim.Wet: "wet", sim.Salt: "strength", sim.Cold: "cold", sim.Dark: "dark"}

// CropEnd is what became of a batch in a rehearsal; nothing that estimates reads it.
type CropEnd [sim.Causes]sim.Harm

// Delay is by how many days its plants are behind, of all causes together.
func (e CropEnd) Delay() (days float64) {
	for _, h := range e {
		days += h.Delay
	}
	return days
}

// Lost is the share of its plants that died.
func (e CropEnd) Lost() float64 {
	left := 1.0
	for _, h := range e {
		left *= 1 - h.Lost
	}
	return 1 - left
}

// regrown is how many days it takes to grow lost plants anew (judgement, no source).
const regrown = 30

// Cost is both in days, so that plans can be ordered.
func (e CropEnd) Cost() float64 { return e.Delay() + regrown*e.Lost() }

// cares gives the batches of a world what each of their days brings: nights and light
// of the site's climate, drawn by the seed, and the strength that the plan says.
func cares(c *sim.Config, site *config.Site, seed uint64) error {
	plants, _, err := outlook.Plants(site)
	if err != nil {
		return err
	}
	for b := range c.Benches {
		at := 0 // batches of a bench are in the order of the file
		for i := range site.Batches {
			if site.Batches[i].Bench == b {
				c.Benches[b].Batches[at].Care = careOf(plants, i, b, seed)
				at++
			}
		}
	}
	return nil
}

func careOf(plants *grow.Site, batch, bench int, seed uint64) func(age int) sim.Care {
	b := &plants.Batches[batch]
	crop := grow.WarmthOf(b.Grows)
	return func(age int) sim.Care {
		d := b.Transplanted.AddDays(age)
		bright := rand.New(rand.NewPCG(seed, uint64(d))).Float64() // bright days have mild nights
		light, lows := plants.Light(d), plants.Line(d.Month()).Lows
		care := sim.Care{
			Night: float64(lows.Least) + bright*float64(lows.Most-lows.Least), Cold: float64(crop.Cold),
			Light: light.Dull + bright*(light.Bright-light.Dull) + light.Lamps, Wants: light.Least,
		}
		if rule, ok := plants.Calendar.Governs(bench, d); ok {
			care.Strength = float64(rule.Strength)
		}
		return care
	}
}

// cropEnds are what became of the batches, by name.
func (r *rehearsal) cropEnds() map[string]CropEnd {
	all := map[string]CropEnd{}
	for _, b := range r.world.Truth().Batches {
		if b.Lowest > 0 {
			all[b.Name] = CropEnd(b.Harms)
		}
	}
	return all
}
