package campaign

import (
	"slices"
	"strings"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
)

// setting is where a month plays.
type setting struct {
	site     *config.Site
	scenario *rehearse.Scenario
}

// bench is the index of the bench that a fault is about; -1 for another place.
func (s *setting) bench(where string) int {
	name, _, _ := strings.Cut(where, ".")
	return slices.IndexFunc(s.site.Benches, func(b config.Bench) bool { return b.Name == name })
}

// allowance is what is stated for a month in which one thing goes wrong, or none.
type allowance struct {
	single  bool    // nothing is stated where more does
	litres  float64 // that may reach the floor
	dry     bool    // a pump may run dry
	endless bool    // and as long as the fault lasts: only a person stops it
	astray  bool    // water begins to go elsewhere: the pump that runs then may run dry until its flood ends
}

// spills reports whether no layer is left healthy that holds all of the water.
func (a allowance) spills() bool { return a.litres > drops }

func (s *setting) allowance() allowance {
	one, single := rehearse.CaseOf(s.site, s.scenario)
	if !single {
		return allowance{}
	}
	b := rehearse.BoundOf(one)
	return allowance{true, drops + b.Litres(one), b.Dry || len(lows(s.site)) < len(s.site.Reservoirs), b.Endless, b.Astray}
}
