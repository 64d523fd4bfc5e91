package config_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule"
)

// checkedOn is the day of the checks below, in the life of the example's batch.
var checkedOn = schedule.DateOf(2026, time.April, 10)

// A slip is one number of the example mistyped, and the key that has to be
// named for it.
type slip struct{ old, new, key string }

func (s slip) problems(t *testing.T) config.Problems {
	require.Equal(t, 1, strings.Count(string(config.Example), s.old), "%q stands once in the example", s.old)
	_, problems := config.ParseOn("bench.yaml", []byte(strings.Replace(string(config.Example), s.old, s.new, 1)), checkedOn)
	return problems
}

// Slips of the pen: a tenth or ten times, minutes for seconds and hours, metres
// for millimetres, a lost decimal point, and numbers of another bench. The first
// problem that is told has to name the number that is wrong.
var slips = []slip{
	{"latitude: 53.2", "latitude: -53.2", "site.latitude"},
	{"latitude: 53.2", "latitude: 5.32", "site.latitude"},
	{"latitude: 53.2", "latitude: 35.1", "site.latitude"},
	{"longitude: -7.1", "longitude: 71", "site.longitude"},
	{"longitude: -7.1", "longitude: -71", "site.longitude"},
	{"Europe/Dublin", "America/Denver", "site.longitude"},
	{"line: GPIO24", "line: GPIO99", "benches.north.full_switch.line"},
	{"line: GPIO24", "line: 24", "benches.north.full_switch.line"},
	{"usable: 200 L", "usable: 2000 L", "reservoirs.tank.usable"},
	{"usable: 200 L", "usable: 200000 L", "reservoirs.tank.usable"},
	{"usable: 200 L", "usable: 20 L", "reservoirs.tank.usable"},
	{"keep: 20 L", "keep: 20 mL", "reservoirs.tank.keep"},
	{"keep: 20 L", "keep: 2 L", "reservoirs.tank.keep"},
	{"keep: 20 L", "keep: 120 L", "reservoirs.tank.keep"},
	{"at: 155 L", "at: 14 L", "reservoirs.tank.low_switch.at"},
	{"at: 155 L", "at: 1400 L", "reservoirs.tank.low_switch.at"},
	{"at: 155 L", "at: 200 L", "reservoirs.tank.low_switch.at"},
	{"at: 155 L", "at: 195 L", "reservoirs.tank.low_switch.at"},
	{"length: 2.4 m", "length: 24 m", "benches.north.table.length"},
	{"length: 2.4 m", "length: 2.4 mm", "benches.north.table.length"},
	{"length: 2.4 m", "length: 24 cm", "benches.north.table.length"},
	{"width: 1.2 m", "width: 12 m", "benches.north.table.width"},
	{"width: 1.2 m", "width: 1.2 cm", "benches.north.table.width"},
	{"width: 1.2 m", "width: 0.12 m", "benches.north.table.width"},
	{"rim: 75 mm", "rim: 75 m", "benches.north.table.rim"},
	{"rim: 75 mm", "rim: 750 mm", "benches.north.table.rim"},
	{"rim: 75 mm", "rim: 7.5 mm", "benches.north.table.rim"},
	{"crest: 30 mm", "crest: 3 mm", "benches.north.standpipe.crest"},
	{"crest: 30 mm", "crest: 30 cm", "benches.north.standpipe.crest"},
	{"bore: 50 mm", "bore: 5 mm", "benches.north.standpipe.bore"},
	{"bore: 50 mm", "bore: 500 mm", "benches.north.standpipe.bore"},
	{"bore: 19 mm", "bore: 190 mm", "benches.north.supply.bore"},
	{"bore: 19 mm", "bore: 1.9 mm", "benches.north.supply.bore"},
	{"length: 3 m,", "length: 30 m,", "benches.north.supply.length"},
	{"length: 3 m,", "length: 3 mm,", "benches.north.supply.length"},
	{"length: 3 m,", "length: 0.3 m,", "benches.north.supply.length"},
	{"length: 3 m,", "length: 3 in,", "benches.north.supply.length"},
	{"lift: 0.8 m", "lift: 8 m", "benches.north.supply.lift"},
	{"lift: 0.8 m", "lift: 8 cm", "benches.north.supply.lift"},
	{"lift: 0.8 m", "lift: 0.8 mm", "benches.north.supply.lift"},
	{"max_head: 2.2 m", "max_head: 22 m", "benches.north.supply.max_head"},
	{"max_head: 2.2 m", "max_head: 220 m", "benches.north.supply.max_head"},
	{"max_head: 2.2 m", "max_head: 22 cm", "benches.north.supply.max_head"},
	{"max_head: 2.2 m", "max_head: 1.02 m", "benches.north.supply.max_head"},
	{"max_flow: 2000 L/h", "max_flow: 2000000 L/h", "benches.north.supply.max_flow"},
	{"max_flow: 2000 L/h", "max_flow: 2000 L/min", "benches.north.supply.max_flow"},
	{"max_flow: 2000 L/h", "max_flow: 4 gal/h", "benches.north.supply.max_flow"},
	{"max_flow: 2000 L/h", "max_flow: 200 L/h", "benches.north.cycle.fill"},
	{"max_flow: 2000 L/h", "max_flow: 20000 L/h", "benches.north.supply.max_flow"},
	{"at: 26 mm", "at: 29.75 mm", "benches.north.full_switch.at"},
	{"at: 26 mm", "at: 2.5 mm", "benches.north.full_switch.at"},
	{"at: 26 mm", "at: 2.6 mm", "benches.north.full_switch.at"},
	{"at: 26 mm", "at: 10 mm", "benches.north.full_switch.at"},
	{"at: 26 mm", "at: 260 mm", "benches.north.full_switch.at"},
	{"at: 52 mm", "at: 74.75 mm", "benches.north.high_switch.at"},
	{"at: 52 mm", "at: 41.15 mm", "benches.north.high_switch.at"},
	{"at: 52 mm", "at: 5.2 mm", "benches.north.high_switch.at"},
	{"at: 52 mm", "at: 520 mm", "benches.north.high_switch.at"},
	{"fill: 3.5 min", "fill: 3.5 s", "benches.north.cycle.fill"},
	{"fill: 3.5 min", "fill: 35 min", "benches.north.cycle.fill"},
	{"fill: 3.5 min", "fill: 3.5 h", "benches.north.cycle.fill"},
	{"fill: 3.5 min", "fill: 21 s", "benches.north.cycle.fill"},
	{"fall: 2 min", "fall: 2 h", "benches.north.cycle.fall"},
	{"fall: 2 min", "fall: 2 s", "benches.north.cycle.fall"},
	{"fall: 2 min", "fall: 12 s", "benches.north.cycle.fall"},
	{"fall: 2 min", "fall: 20 min", "benches.north.cycle.fall"},
	{"drain: 12 min", "drain: 12 s", "benches.north.cycle.drain"},
	{"drain: 12 min", "drain: 72 s", "benches.north.cycle.drain"},
	{"drain: 12 min", "drain: 12 h", "benches.north.cycle.drain"},
	{"drain: 12 min", "drain: 2 h", "benches.north.cycle.drain"},
	{"drain: 12 min", "drain: 1.5 min", "benches.north.cycle.drain"},
	{"drain: 12 min}", "drain: 12 min, flow: 12000 L/h}", "benches.north.cycle.flow"},
	{"before_flood: 10 min", "before_flood: 10 h", "stirring.before_flood"},
	{"before_flood: 10 min", "before_flood: 100 min", "stirring.before_flood"},
	{"before_flood: 10 min", "before_flood: 1 s", "stirring.before_flood"},
	{"from_day: 0,", "from_day: 3,", "plans.basil.1.from_day"},
	{"from_day: 24", "from_day: 240", "plans.basil.3.from_day"},
	{"from_day: 10", "from_day: 100", "plans.basil.3.from_day"},
	{"from_day: 24", "from_day: 140", "plans.basil.3.from_day"},
	{`"08:30", "15:00"`, `"08:30", "03:00"`, "plans.basil.2.flood_at"},
	{"hold: 4 min", "hold: 6 h", "plans.basil.1.hold"},
	{"hold: 4 min", "hold: 4 h", "plans.basil.1.hold"},
	{"hold: 4 min", "hold: 4 s", "plans.basil.1.hold"},
	{"hold: 4 min", "hold: 40 min", "plans.basil.1.hold"},
	{"hold: 4 min", "hold: 24 s", "plans.basil.1.hold"},
	{"hold: 8 min", "hold: 25 h", "plans.basil.3.hold"},
	{"strength: 25 %", "strength: 2.5 %", "plans.basil.1.strength"},
	{"strength: 25 %", "strength: 250 %", "plans.basil.1.strength"},
	{"strength: 100 %", "strength: 10 %", "plans.basil.3.strength"},
	{"can_wait: 48 h", "can_wait: 300 d", "plans.basil.1.can_wait"},
	{"can_wait: 48 h", "can_wait: 48 d", "plans.basil.1.can_wait"},
	{"can_wait: 48 h", "can_wait: 480 h", "plans.basil.1.can_wait"},
	{"can_wait: 48 h", "can_wait: 48 min", "plans.basil.1.can_wait"},
	{"can_wait: 48 h", "can_wait: 4.8 h", "plans.basil.1.can_wait"},
	{`"0 8-17/3 * * *"`, `"0/30 8-17 * * *"`, "plans.basil.3"},
	{"2026-03-02", "2017-03-02", "batches.1.transplanted"},
	{"2026-03-02", "2127-03-02", "batches.1.transplanted"},
	{"2026-03-02", "2025-03-02", "batches.1.transplanted"},
	{"2026-03-02", "2027-03-02", "batches.1.transplanted"},
	{"2026-03-02", "2062-03-02", "batches.1.transplanted"},
	{"2026-03-02", "1926-03-02", "batches.1.transplanted"},
	{"pots: 96", "pots: 960", "benches.north"},
	{"pots: 96", "pots: 9", "batches.1.pots"},
	{"top: 9 cm", "top: 9 mm", "batches.1.pot.top"},
	{"top: 9 cm", "top: 90 cm", "batches.1.pot.top"},
	{"top: 9 cm", "top: 9 in", "batches.1.pot.volume"},
	{"volume: 0.35 L", "volume: 280 L", "batches.1.pot.volume"},
	{"volume: 0.35 L", "volume: 3.5 L", "batches.1.pot.volume"},
	{"volume: 0.35 L", "volume: 35 mL", "batches.1.pot.volume"},
	{"volume: 0.35 L", "volume: 35 L", "batches.1.pot.volume"},
}

func TestASlipOfThePenIsNamed(t *testing.T) {
	named := 0
	for _, s := range slips {
		problems := s.problems(t)
		if !assert.NotEmpty(t, problems, "%q for %q goes unseen", s.new, s.old) {
			continue
		}
		named++
		assert.Contains(t, problems[0].String(), s.key+":", "%q for %q", s.new, s.old)
	}
	t.Logf("%d of %d slips named", named, len(slips))
}

// Sites at both ends of what people build. Nothing about their numbers is to be
// doubted.
func TestSmallAndLargeSitesAreBelieved(t *testing.T) {
	for _, c := range []struct {
		name string
		with []string
	}{
		{"a window sill", []string{
			"usable: 200 L", "usable: 30 L", "keep: 20 L", "keep: 4 L", "at: 155 L", "at: 12 L", "length: 2.4 m, width: 1.2 m", "length: 0.5 m, width: 0.3 m",
			"bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h", "bore: 10 mm, length: 0.8 m, lift: 0.4 m, max_head: 1 m, max_flow: 300 L/h",
			"bore: 50 mm", "bore: 25 mm", "cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}", "#",
			"pots: 96, pot: {top: 9 cm, volume: 0.35 L}", "pots: 12, pot: {top: 7 cm, volume: 0.2 L}", "at: 26 mm", "at: 25 mm",
		}},
		{"a nursery", []string{
			"usable: 200 L", "usable: 3000 L", "keep: 20 L", "keep: 200 L", "at: 155 L", "at: 1500 L", "length: 2.4 m, width: 1.2 m", "length: 9 m, width: 1.8 m",
			"bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h", "bore: 40 mm, length: 8 m, lift: 1.2 m, max_head: 7 m, max_flow: 12000 L/h",
			"bore: 50 mm", "bore: 110 mm", "cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}", "#", "rim: 75 mm", "rim: 100 mm", "at: 52 mm", "at: 75 mm",
			"pots: 96, pot: {top: 9 cm, volume: 0.35 L}", "pots: 400, pot: {top: 13 cm, volume: 1.1 L}",
		}},
		{"plugs in trays", []string{"pots: 96, pot: {top: 9 cm, volume: 0.35 L}", "pots: 1200, pot: {top: 3 cm, volume: 22 mL}"}},
		{"tall pots for trees", []string{"pots: 96, pot: {top: 9 cm, volume: 0.35 L}", "pots: 20, pot: {top: 10 cm, volume: 1.2 L}", "at: 155 L", "at: 150 L"}},
		{"the far west of China", []string{"Europe/Dublin, latitude: 53.2, longitude: -7.1", "Asia/Shanghai, latitude: 39.5, longitude: 76"}},
		{"the date line", []string{"Europe/Dublin, latitude: 53.2, longitude: -7.1", "Pacific/Kiritimati, latitude: 1.9, longitude: -157.4"}},
		{"New Zealand", []string{"Europe/Dublin, latitude: 53.2, longitude: -7.1", "Pacific/Auckland, latitude: -36.8, longitude: 174.8"}},
		{"Galicia", []string{"Europe/Dublin, latitude: 53.2, longitude: -7.1", "Europe/Madrid, latitude: 42.9, longitude: -9.2"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for i := 0; i < len(c.with); i += 2 {
				require.Contains(t, string(config.Example), c.with[i])
			}
			_, problems := config.ParseOn("bench.yaml", []byte(strings.NewReplacer(c.with...).Replace(string(config.Example))), checkedOn)
			for _, p := range problems {
				assert.NotContains(t, p.String(), "as a rule", "no number is odd")
				assert.NotContains(t, p.String(), "leave it", "no number is odd")
				assert.False(t, !p.Warning, "%v", p)
			}
		})
	}
}

func TestTheBlameFallsOnTheNumberThatIsOdd(t *testing.T) {
	for _, s := range []slip{
		{"keep: 20 L", "keep: 120 L", "reservoirs.tank.keep: 120 L: more than half of the 200 L is never drawn"},
		{"length: 3 m,", "length: 90 m,", "benches.north.supply.length: 90 m: the length of a hose is 200 mm to 20 m as a rule"},
		{"volume: 0.35 L", "volume: 280 L", "batches.1.pot.volume: 280 L: that cannot be what a pot holds, which is 5 mL to 15 L as a rule: did you mean 0.28 L (this is 1000 times too large)?"},
		{"hold: 8 min", "hold: 25 h", "plans.basil.3.hold: 25 h: that cannot be the hold of a flood"},
		{"rim: 75 mm", "rim: 75 m", "benches.north.table.rim: 75 m: that cannot be the height of a rim, which is 20 mm to 300 mm as a rule: did you mean 75 mm (this is 1000 times too large)?"},
		{"volume: 0.35 L", "volume: 24 L", "did you mean 0.24 L (this is 100 times too large)?"},
		{"drain: 12 min", "drain: 12 s", "did you mean 12 min (this is 60 times too small)"},
	} {
		problems := s.problems(t)
		errors := problems.Errors()
		require.Len(t, errors, 1, "%v", problems)
		assert.Contains(t, errors[0].String(), s.key)
	}
}
