package config_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

// Each row is a slip of the pen: one error says so, at its line, with what was meant.
func TestASlipOfThePenIsOneErrorWithWhatWasMeant(t *testing.T) {
	for _, c := range []struct{ old, new, says string }{
		{"lift: 0.8 m", "lift: 0.8 metres high", "did you mean 0.8 metres?"},
		{"lift: 0.8 m", "lift: about 0.8 m", "did you mean 0.8 m?"},
		{"usable: 200 L", "usable: 200 litters", "did you mean 200 L?"},
		{"max_flow: 2000 L/h", "max_flow: 2 m3/h", "did you mean 2000 L/h?"},
		{"max_flow: 2000 L/h", "max_flow: 2000 L per hour", "did you mean 2000 L/h?"},
		{"max_flow: 2000 L/h", "max_flow: 500 gallons per hour", "did you mean 500 gph?"},
		{"hold: 4 min", "hold: 4 m", "did you mean 4 min?"},
		{"hold: 4 min", `hold: "4:30"`, "did you mean 4 min 30 s or 4 h 30 min?"},
		{"hold: 4 min", "hold: 00:04", "did you mean 4 s or 4 min?"},
		{"can_wait: 48 h", "can_wait: 2 days and 3 hours", "did you mean 2 days 3 hours?"},
		{"strength: 25 %", "strength: 1/4", "did you mean 25 %?"},
		{"strength: 25 %", "strength: 0.5", "did you mean 50 %?"},
		{`["09:00"]`, `["24:00"]`, "did you mean 00:00?"},
		{`["09:00"]`, `"09:00, 15:00"`, `several times stand in a list: write ["09:00", "15:00"]`},
		{`["09:00"]`, "9:00 15:00", `write ["09:00", "15:00"]`},
		{"transplanted: 2026-03-02", "transplanted: 31/11/2026", "November 2026 has 30 days"},
		{"transplanted: 2026-03-02", "transplanted: 2026-02-29", "February 2026 has 28 days"},
		{"transplanted: 2026-03-02", "transplanted: 2 March 2026", "did you mean 2026-03-02?"},
		{"transplanted: 2026-03-02", `transplanted: "Mar 2, 2026"`, "did you mean 2026-03-02?"},
		{"transplanted: 2026-03-02", "transplanted: 2026-03-02 09:00", "did you mean 2026-03-02?"},
		{"latitude: 53.2, longitude: -7.1", "latitude: 53.2, longitude: 7.1W", "did you mean -7.1?"},
		{"latitude: 53.2", "latitude: 53°12'", "did you mean 53.2?"},
		{"latitude: 53.2", "lat: 53.2", `unknown key "lat": did you mean latitude?`},
		{"kind: air", "kind: airpump", "did you mean air?"},
		{"board: simulated", "board: Raspberry Pi 5", "did you mean gpio?"},
		{"board: simulated", "board = simulated", "write board: simulated"},
		{"line: GPIO24", "line: GPIO 24", "did you mean GPIO24?"},
		{"energise: low,  kind: pump", "energize: low,  kind: pump", `unknown key "energize": did you mean energise?`},
		{"from_day: 10,", "from day: 10,", `unknown key "from day": did you mean from_day?`},
		{"site: {name:", "site: {name ", "wants a colon after the key: write name: Quarry Lane"},
		{"drain: {through: pump}", "drain: {trough: pump}", `unknown key "trough": did you mean through?`},
		{"always: true", "always: ture", `"ture": write true or false`},
		{"  basil:\n", "  basil\n", `"basil" wants a colon after the name: write basil:`},
		{"at: 26 mm, water", "at: 26 mm water", "a comma is missing before water"},
		{"length: 3 m, lift", "length: 3 m. lift", "a comma is missing before lift"},
		{"crest: 30 mm,", "crest: 30 mm,,", "two commas stand side by side: leave one out"},
		{"    keep: 20 L ", "   keep: 20 L ", "this line stands 3 spaces in, and no line above it does"},
		{"    keep: 20 L ", "      keep: 20 L ", "this line stands further in than the one above it, which has its value already"},
		{"top: 9 cm", "top: Ø9 cm", "did you mean 9 cm?"},
		{"bore: 19 mm,", "bore: 19 mm;,", "did you mean 19 mm?"},
		{"crest: 30 mm", "crest: ~30 mm", "did you mean 30 mm?"},
		{"crest: 30 mm", "crest: 30 mm (from the floor)", "did you mean 30 mm?"},
		{"volume: 0.35 L", "volume: 350 cc", "did you mean 350 mL?"},
		{"volume: 0.35 L", "volume: 3.5 dl", "did you mean 350 mL?"},
		{"pots: 96", "pots: 96 pots", "did you mean 96?"},
		{"can_wait: 48 h", "can_wait: two days", "did you mean 2 days?"},
		{"can_wait: 48 h", "can_wait: 2 Tage", "did you mean 2 d?"},
		{"can_wait: 48 h", "can_wait: 2 weeks", "did you mean 14 d?"},
		{"can_wait: 48 h", "can_wait: a day", "did you mean 1 day?"},
		{"hold: 4 min", "hold: half an hour", "did you mean 0.5 hour?"},
		{"strength: 25 %", "strength: half", "did you mean 50 %?"},
		{"strength: 25 %", "strength: a quarter", "did you mean 25 %?"},
		{"strength: 25 %", "strength: 25 Prozent", "did you mean 25 %?"},
		{"usable: 200 L", "usable: 50 US gallons", "did you mean 50 gal?"},
		{"bore: 19 mm", "bore: 1 Zoll", "did you mean 1 in?"},
		{"max_flow: 2000 L/h", "max_flow: 2000 l/Std.", "did you mean 2000 L/h?"},
		{"volume: 0.35 L", "volume: 3,5 dl", "did you mean 350 mL?"},
		{`["09:00"]`, `["9 Uhr"]`, `did you mean "09:00"?`},
		{`["09:00"]`, `["9:30 o'clock"]`, `did you mean "09:30"?`},
		{"transplanted: 2026-03-02", "transplanted: March 2", "the year is missing: write it first, as in YEAR-03-02"},
		{"transplanted: 2026-03-02", "transplanted: 2.3.", "the year is missing: write it first, as in YEAR-03-02"},
		{"transplanted: 2026-03-02", "transplanted: 3/2", "as in YEAR-02-03 or YEAR-03-02"},
		{"transplanted: 2026-03-02", "transplanted: 13/2", "as in YEAR-02-13"},
		{"transplanted: 2026-03-02", `transplanted: "March 2nd, 2026"`, "did you mean 2026-03-02?"},
		{"transplanted: 2026-03-02", "transplanted: 2-Mar-2026", "did you mean 2026-03-02?"},
		{"transplanted: 2026-03-02", "transplanted: 2. März 2026", "did you mean 2026-03-02?"},
		{"transplanted: 2026-03-02", "transplanted: 2nd of March 2026", "did you mean 2026-03-02?"},
		{"longitude: -7.1", "longitude: W 7.1", "did you mean -7.1?"},
		{"timezone: Europe/Dublin", "timezone: US Eastern", "did you mean America/New_York"},
		{"reservoirs:", "reservoir:", `unknown key "reservoir": did you mean reservoirs?`},
		{"reservoirs:", "tanks:", `unknown key "tanks": did you mean reservoirs?`},
		{"outputs:", "relays:", `unknown key "relays": did you mean outputs?`},
		{"benches:", "tables:", `unknown key "tables": did you mean benches?`},
		{"plans:", "plants:", `unknown key "plants": did you mean plans?`},
		{"name: basil_spring", "name: basil spring", "did you mean basil_spring?"},
		{"pump: flood_pump", "pump: flood-pump", "did you mean flood_pump?"},
	} {
		t.Run(fmt.Sprintf("%q", c.new), func(t *testing.T) {
			text := string(config.Example)
			require.Contains(t, text, c.old)
			before, _, _ := strings.Cut(text, c.old)
			_, problems := config.Parse("bench.yaml", []byte(strings.Replace(text, c.old, c.new, 1)))
			errs := problems.Errors()
			require.Len(t, errs, 1)
			assert.Contains(t, errs[0].String(), c.says)
			assert.Equal(t, 1+strings.Count(before, "\n"), errs[0].Line)
		})
	}
}
