package config_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

// Each row writes one thing of the example as people write it who do not know
// the file: the first error stands at its line and says what was meant.
func TestWhatWasMeantIsSaidAtItsPlace(t *testing.T) {
	rows := []struct {
		old, new, says string
	}{
		// A value without a space after its colon.
		{"width: 1.2 m", "width:1.2 m", `"width:1.2 m" wants a space after the colon: write width: 1.2 m`},
		{"keep: 20 L ", "keep:20 L ", `"keep:20 L" wants a space after the colon: write keep: 20 L`},
		{"usable: 200 L", "usable:200 L", `"usable:200 L" wants a space after the colon: write usable: 200 L`},
		{"at: 26 mm", "at:26 mm", `"at:26 mm" wants a space after the colon: write at: 26 mm`},
		{"hold: 4 min", "hold:4 min", `"hold:4 min" wants a space after the colon: write hold: 4 min`},
		{"pots: 96", "pots:96", `"pots:96" wants a space after the colon: write pots: 96`},
		{"board: simulated ", "board:simulated ", `"board:simulated" wants a space after the colon`},
		{"reservoir: tank", "reservoir:tank", `"reservoir:tank" wants a space after the colon`},
		// A decimal comma.
		{"volume: 0.35 L", "volume: 0,28 L", `"0,28 L": decimals take a point: write 0.28 L`},
		{"usable: 200 L", "usable: 200,5 L", `"200,5 L": decimals take a point: write 200.5 L`},
		{"width: 1.2 m", "width: 1,2 m", `"1,2 m": decimals take a point: write 1.2 m`},
		{"fill: 3.5 min", "fill: 3,5 min", `"3,5 min": decimals take a point: write 3.5 min`},
		{"max_flow: 2000 L/h", "max_flow: 2,000 L/h", "thousands take nothing: write 2.000 L/h or 2000 L/h"},
		{"strength: 25 %", "strength: 2,5 %", "write 2.5 %"},
		// Tabs, brackets, quotes.
		{"    keep: 20 L ", "\tkeep: 20 L ", "a tab before the key: indent with spaces"},
		{"  north:", "\tnorth:", "a tab before the key"},
		{"floor: drained}", "floor: drained", "{ is not closed: write } where its section ends"},
		{"rim: 75 mm}", "rim: 75 mm", "{ is not closed"},
		{`["09:00"]`, `["09:00"`, "} stands where the [ of line 35, column 32, wants ]"},
		{"rim: 75 mm}", "rim: 75 mm]", "] stands where the { of line 22, column 12, wants }"},
		{"drain: {through: pump} ", "drain: {through: pump}} ", "} closes nothing"},
		{"aeration: {output: air, always: true}", "aeration: output: air, always: true}", "} closes nothing"},
		{`"09:00"`, `"09:00`, `the quote " is not closed in its line`},
		{`cron: "0 8-17/3 * * *"`, `cron: '0 8-17/3 * * *`, "the quote ' is not closed in its line"},
		{`"09:00"`, `“09:00”`, `it has curly quotes: write "09:00"`},
		{`"0 8-17/3 * * *"`, `“0 8-17/3 * * *”`, "it has curly quotes"},
		{"substrate: peat", "substrate: “peat”", `it has curly quotes: write "peat"`},
		{"keep: 20 L  ", "keep: 20 L#kept", "a comment wants a space before its #"},
		// Time zones.
		{"Europe/Dublin", "CST", `"CST": no such time zone: letters are of no one place: did you mean America/Chicago?`},
		{"Europe/Dublin", "PST", "did you mean America/Los_Angeles?"},
		{"Europe/Dublin", "BST", "did you mean Europe/London?"},
		{"Europe/Dublin", "America/Minneapolis", "did you mean America/Chicago, whose clocks it has?"},
		{"Europe/Dublin", "Minneapolis", "did you mean America/Chicago"},
		{"Europe/Dublin", "Europe/Munich", "did you mean Europe/Berlin"},
		{"Europe/Dublin", "Dublin", "did you mean Europe/Dublin?"},
		{"Europe/Dublin", "Europe/Dubln", "did you mean Europe/Dublin?"},
		{"Europe/Dublin", "Pacific", "did you mean America/Los_Angeles"},
		{"Europe/Dublin", "UTC+1", "hours from UTC leave summer time out"},
		{"Europe/Dublin", "Salt Lake City", "did you mean America/Denver"},
		// Words for words.
		{"substrate: peat", "substrate: potting soil", `"potting soil": did you mean peat?`},
		{"substrate: peat", "substrate: Peat", "did you mean peat?"},
		{"substrate: peat", "substrate: coco", "did you mean coir?"},
		{"substrate: peat", "substrate: stone wool", "did you mean rockwool?"},
		{"substrate: peat", "substrate: gravel", "write peat, bark, wood, rockwool, coir or perlite"},
		{"substrate: peat", "crop: pepper", `"pepper": did you mean sweet_pepper?`},
		{"substrate: peat", "crop: mint", "did you mean leafy?"},
		{"substrate: peat", "crop: tomatos", "did you mean tomato?"},
		{"substrate: peat", "advance: automatic", "did you mean auto?"},
		{"board: simulated", "board: raspberry pi", "did you mean gpio?"},
		{"floor: drained", "floor: dry", "did you mean dry-room?"},
		{"kind: air", "kind: air pump", "did you mean air?"},
		{"kind: enable", "kind: relay", "did you mean enable?"},
		{"line: GPIO5,  energise: low", "line: GPIO5,  energise: active low", "did you mean low?"},
		{"water: opens", "water: NC", "did you mean opens?"},
		{"at: 26 mm, water: closes", "at: 26 mm, water: open", "did you mean opens?"},
		// Keys and kinds.
		{"rim: 75 mm", "height: 75 mm", "did you mean rim?"},
		{"crest: 30 mm", "crset: 30 mm", "did you mean crest?"},
		{"low_switch:", "full_switch:", "known here are"},
		{"table: {length: 2.4 m, width: 1.2 m, rim: 75 mm}", "table: 2.4 m", "the inside of the table, such as {length: 2.4 m, width: 1.2 m, rim: 75 mm}"},
		{"pots: 96", "pots: 96 pots", "write a whole number from 1 to 1000000"},
		{"pots: 96", "pots: 0", "write a whole number from 1 to 1000000"},
		{"from_day: 10,", "from_day: 10 d,", "write a whole number from 0 to 3650"},
		{"strength: 25 %", "strength: 0.25", "a share needs a unit: 25 %"},
		{"hold: 4 min", "hold: 4", "a length of time needs a unit"},
		{"usable: 200 L", "usable: 200", "a volume needs a unit"},
		{"usable: 200 L", "usable: 200 oz", `"oz" is no unit of a volume`},
		{"lift: 0.8 m", "lift: 7 ft 6", "6 has no unit"},
		{"lift: 0.8 m", "lift: 1e0 m", "a number has no exponent: write it out"},
		{"transplanted: 2026-03-02", "transplanted: 02.03.2026", "year-month-day, such as 2026-03-02"},
		{"keep: 20 L  ", "keep:  ", "nothing is written here: how much is never drawn, to cover the intake, such as 20 L"},
	}
	told := 0
	for _, c := range rows {
		told++
		t.Run(fmt.Sprintf("%q", c.new), func(t *testing.T) {
			require.Contains(t, string(config.Example), c.old)
			site, problems := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), c.old, c.new, 1)))
			assert.Nil(t, site)
			errs := problems.Errors()
			require.NotEmpty(t, errs)
			before, _, _ := strings.Cut(string(config.Example), c.old)
			said := slices.IndexFunc(errs, func(p config.Problem) bool {
				return p.Line == 1+strings.Count(before, "\n") && strings.Contains(p.String(), c.says)
			})
			assert.GreaterOrEqual(t, said, 0, "%v", errs)
			assert.LessOrEqual(t, len(errs), 2, "%v", errs)
		})
	}
	assert.GreaterOrEqual(t, told, 60)
}

func TestClocksThatStandStillAreWarnedOf(t *testing.T) {
	_, problems := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), "Europe/Dublin, latitude: 53.2, longitude: -7.1", "EST", 1)))
	require.NoError(t, problems.Err())
	assert.Contains(t, problems.Warnings().Error(), "site.timezone: EST: its clocks have no summer time: where they change in spring write the zone of the place, such as America/New_York")
}
