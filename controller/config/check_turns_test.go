package config

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// One bench whose floods take long keeps the tank from another, whose own are given up.
func TestABenchThatNeverHasItsTurnIsWarnedOf(t *testing.T) {
	data, err := os.ReadFile("../../testdata/configs/two-benches.yaml")
	require.NoError(t, err)
	const (
		quick = "supply: {bore: 19 mm, length: 3 m, lift: 0.9 m, max_head: 2.5 m, max_flow: 2400 L/h}"
		slow  = "supply: {bore: 25 mm, length: 2 m, lift: 0.5 m, max_head: 1.4 m, max_flow: 280 L/h}"
		upper = "    empty_switch: {line: GPIO12, at: 3 mm, water: closes}\n"
		third = `  middle:
    reservoir: cistern
    pump: pump_c
    table: {length: 2.4 m, width: 1.2 m, rim: 80 mm}
    standpipe: {crest: 30 mm, bore: 50 mm}
    ` + slow + `
    drain: {through: pump}
    full_switch:  {line: GPIO21, at: 26 mm, water: closes}
    high_switch:  {line: GPIO26, at: 55 mm, water: opens}
`
	)
	crowd := []string{
		quick, slow, upper, upper + third,
		"  stirrer: ", "  pump_c:   {line: GPIO13, energise: low, kind: pump, behind: enable_a}\n  stirrer: ",
		"  - {name: tomatoes,", "  - {name: lettuce_too, plan: lettuce, bench: middle, transplanted: 2026-03-02, closed: 2026-05-10, pots: 60, pot: {top: 8 cm, volume: 0.25 L}}\n  - {name: tomatoes,",
	}
	for name, c := range map[string]struct {
		alter []string
		want  string
	}{
		"as the file is": {nil, ""},
		"two slow ones before it": {
			append([]string{`"0 7-19/4 * * *"`, `"5 9-17/4 * * *"`}, crowd...),
			"benches.lower: on 2026-03-16 the flood of 09:05 would have to wait until 11:21 while other benches use cistern",
		},
		"hours apart": {append([]string{`"0 7-19/4 * * *"`, `"0 12-20/6 * * *"`}, crowd...), ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, problems := Parse("bench.yaml", []byte(strings.NewReplacer(c.alter...).Replace(string(data))))
			require.NoError(t, problems.Err())
			var found []string
			for _, w := range problems.Warnings() {
				if strings.Contains(w.String(), "given up") {
					found = append(found, w.String())
				}
			}
			if c.want == "" {
				assert.Empty(t, found)
				return
			}
			require.Len(t, found, 1)
			assert.Contains(t, found[0], c.want)
		})
	}
}
