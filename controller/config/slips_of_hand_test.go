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

// Each row is typed as on a phone, late: the error stands at its line and says what was
// meant.
func TestWhatIsTypedOnAPhoneIsSaidAtItsPlace(t *testing.T) {
	for _, c := range []struct{ old, new, says string }{
		{"usable: 200 L", "usable: ２００ L", "letters that only look like those of a plain keyboard: write 200 L"},
		{"usable: 200 L", "usable： 200 L", "a wide colon: write usable: 200 L"},
		{"usable: 200 L", "usable:\u00a0200 L", "wants a space after the colon"},
		{"    keep: 20 L ", "\u00a0\u00a0\u00a0\u00a0keep: 20 L ", "a space before the key that is no plain one"},
		{"usable: 200 L", "usable 200 L", `"usable 200 L" wants a colon after the key: write usable: 200 L`},
		{"board: simulated ", "board simulated ", `wants a colon after the key: write board: simulated`},
		{"reservoirs:\n", "reservoirs\n", "wants a colon after the key: write reservoirs:"},
		{`["09:00"]`, `["9 am"]`, `"9 am": a time runs from 00:00 to 23:59: did you mean "09:00"?`},
		{`["09:00"]`, `3 pm`, `did you mean "15:00"?`},
		{`["09:00"]`, `["3:30 PM"]`, `did you mean "15:30"?`},
		{`["09:00"]`, `["12 am"]`, `did you mean "00:00"?`},
		{`["09:00"]`, `["12 p.m."]`, `did you mean "12:00"?`},
		{`["09:00"]`, `[9.30]`, `did you mean "09:30"?`},
		{`["09:00"]`, `["9h30"]`, `did you mean "09:30"?`},
		{`["09:00"]`, `["0900"]`, `did you mean "09:00"?`},
		{`["09:00"]`, `["noon"]`, `did you mean "12:00"?`},
		{`["09:00"]`, `["09：00"]`, "write 09:00"},
		{`["09:00"]`, `["13 pm"]`, `write hours and minutes from 00:00 to 23:59`},
		{"2026-03-02", "2/3/2026", "did you mean 2026-03-02 or 2026-02-03?"},
		{"2026-03-02", "25/3/2026", "did you mean 2026-03-25?"},
		{"2026-03-02", "3/2/26", "did you mean 2026-02-03 or 2026-03-02?"},
		{"2026-03-02", "2.3.2026", "did you mean 2026-03-02 or 2026-02-03?"},
		{"2026-03-02", "2026/03/02", "did you mean 2026-03-02?"},
		{"2026-03-02", "2026-3-2", "did you mean 2026-03-02?"},
		{"2026-03-02", "2026–03–02", "write 2026-03-02"},
		{"2026-03-02", "2026-02-30", "write a day of the calendar as year-month-day"},
		{"always: true", "always: yes", `"yes": did you mean true?`},
		{"always: true", "always: on", `"on": did you mean true?`},
		{"always: true", "always: off", `"off": did you mean false?`},
		{"floor: drained", "floor: yes", "did you mean drained?"},
		{"  air:        {", "  enable: {", "it stands on line 9 already"},
		{"benches:\n", "<<<<<<< HEAD\nbenches:\n", "a mark of a merge that nobody settled"},
		{"benches:\n", "=======\nbenches:\n", "a mark of a merge that nobody settled"},
		{"benches:\n", ">>>>>>> theirs\nbenches:\n", "a mark of a merge that nobody settled"},
		{"reservoirs:\n  tank:\n", "reservoirs:\n  - tank:\n", "expected each reservoir under its name"},
		{"  - {name: basil_spring", "  {name: basil_spring", "expected the plants that stand on the benches"},
		{"pots: 96", "pots: ９６", "write 96"},
		{"strength: 25 %", "strength: 25 ％", "write 25 %"},
		{"lift: 0.8 m", "lift: O.8 m", "it has a letter for a digit: did you mean 0.8 m?"},
		{"keep: 20 L ", "keep: l20 L ", "did you mean 120 L?"},
		{"bore: 50 mm", "bore: 50 mm\u200b", "write 50 mm"},
		{"reservoir: tank", "reservoir: Tank", "did you mean tank?"},
		{"rim: 75 mm}", "rim: 75 mm)", "{ is not closed"},
		{"max_flow: 2000 L/h", "max_flow: 2k L/h", "is no unit of a flow"},
	} {
		t.Run(fmt.Sprintf("%q", c.new), func(t *testing.T) {
			require.Contains(t, string(config.Example), c.old)
			site, problems := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), c.old, c.new, 1)))
			assert.Nil(t, site)
			errs := problems.Errors()
			before, _, _ := strings.Cut(string(config.Example), c.old)
			line := 1 + strings.Count(before, "\n")
			said := slices.IndexFunc(errs, func(p config.Problem) bool {
				return p.Line >= line && p.Line <= line+1 && strings.Contains(p.String(), c.says)
			})
			assert.GreaterOrEqual(t, said, 0, "%v", errs)
			assert.LessOrEqual(t, len(errs), 3, "%v", errs)
		})
	}
}

// inUTF16 is how an editor of another system may save a file.
func inUTF16(s string) []byte {
	b := []byte{0xff, 0xfe}
	for _, r := range s {
		b = append(b, byte(r), byte(r>>8))
	}
	return b
}

func TestAFileOfAnotherKindIsNamedOrRead(t *testing.T) {
	text := string(config.Example)
	plain := strings.Map(func(r rune) rune { return min(r, 0xffff) }, text)
	for name, data := range map[string]string{
		"a byte order mark": "\ufeff" + text, "lines of another system": strings.ReplaceAll(text, "\n", "\r\n"), "UTF-16": string(inUTF16(plain)),
	} {
		_, problems := config.Parse("bench.yaml", []byte(data))
		assert.NoError(t, problems.Err(), name)
	}
	for data, says := range map[string]string{
		"":                         "bench.yaml:1:1: the file is empty: begin with the keys site",
		" \n\n":                    "the file is empty",
		"\x7fELF\x00\x01":          "bench.yaml:1:5: this is no text: give the file of the site",
		"PK\x03\x04\x14\x00":       "this is no text",
		"```yaml\n" + text + "```": "leave the ``` out",
		strings.Replace(text, "Quarry", "Qu\xe4rry", 1): "bench.yaml:3:16: a letter that is not written in UTF-8: save the file as UTF-8",
	} {
		_, problems := config.Parse("bench.yaml", []byte(data))
		errs := problems.Errors()
		require.Len(t, errs, 1, "%.40q", data)
		assert.Contains(t, errs[0].String(), says, "%.40q", data)
	}
}
