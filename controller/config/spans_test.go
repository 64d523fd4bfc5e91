package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/quantity"
)

const measuredCycle = "    cycle: {fill: 3.5 min, fall: 2 min, drain: 12 min}      # replaced by calibration\n"

// saidOf is what is said of the example with each old text replaced by the one after it.
func saidOf(t *testing.T, oldNew ...string) (*Site, string) {
	for i := 0; i < len(oldNew); i += 2 {
		require.Contains(t, string(Example), oldNew[i])
	}
	site, problems := Parse("bench.yaml", []byte(strings.NewReplacer(oldNew...).Replace(string(Example))))
	var all []string
	for _, p := range problems {
		all = append(all, p.String())
	}
	return site, strings.Join(all, "\n")
}

func TestWhatTheFileCannotTellIsHeldAgainstIt(t *testing.T) {
	for _, c := range []struct {
		name, says string
		change     []string
		refused    bool
	}{
		{name: "the example", says: ""},
		{name: "a pump that lifts by its label alone", says: "pumps with that label about", refused: true,
			change: []string{"max_head: 2.2 m", "max_head: 0.99 m", measuredCycle, "", "    usable: 200 L\n", "    usable: 200 L\n    inside: {length: 1.2 m, width: 0.8 m}\n"}},
		{name: "a standpipe that gulps", says: "gulps above 487 L/h, and the pump brings 1140 L/h: the depth of a flood goes up and down; take 50 mm or a smaller pump",
			change: []string{"bore: 50 mm", "bore: 32 mm", "rim: 75 mm", "rim: 110 mm", "at: 52 mm", "at: 98 mm", "at: 155 L", "at: 175 L"}},
		{name: "one whose owner buys pipe by the inch", says: "take 2 in or a smaller pump",
			change: []string{"floor:", "units: us, floor:", "bore: 50 mm", "bore: 1 1/4 in", "rim: 75 mm", "rim: 110 mm", "at: 52 mm", "at: 98 mm", "at: 155 L", "at: 175 L"}},
		{name: "pots that float", says: "they float and tip", change: []string{"substrate: peat", "substrate: perlite"}},
		{name: "pots that are drowned", says: "a flood goes over their tops", refused: true, change: []string{"top: 9 cm, volume: 0.35 L", "top: 9 cm, volume: 0.17 L"}},
		{name: "pots that are wet over the middle", says: "deeper than half of them", change: []string{"top: 9 cm, volume: 0.35 L", "top: 9 cm, volume: 0.26 L"}},
		{name: "pots that stay dry on top", says: "draws water up 150 mm at most", change: []string{"top: 9 cm, volume: 0.35 L", "top: 11 cm, volume: 1.4 L", "pots: 96", "pots: 20"}},
		{name: "HIGH at the depth of some floods", says: "an ordinary flood may stand as deep as", change: []string{"at: 52 mm", "at: 64 mm", "bore: 50 mm", "bore: 32 mm", "rim: 75 mm", "rim: 110 mm", "at: 155 L", "at: 175 L"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			site, said := saidOf(t, c.change...)
			assert.Contains(t, said, c.says)
			assert.Equal(t, c.refused, site == nil, said)
			if c.says == "" {
				assert.Empty(t, said)
			}
		})
	}
}

// Until a bench is timed its windows reach past its spans, and a run ends no later than
// three times its fill; once it is, they are those of its times.
func TestTheWindowsOfABenchThatNobodyTimedHoldItsSpans(t *testing.T) {
	site, _ := saidOf(t, measuredCycle, "")
	l, sh := site.Limits().Benches[0], site.Sheet(0)
	from, by := l.FillWindow()
	assert.Less(t, from, sh.Spans.Low("t_fill_s"))
	assert.Greater(t, by, sh.Spans.High("t_fill_s"))
	assert.Greater(t, by, sh.Fill*3/2)
	assert.LessOrEqual(t, by, 3*sh.Fill)
	assert.Greater(t, l.FallLimit(), sh.Spans.High("t_fall_s"))
	assert.Equal(t, sh.Spans.High("t_drain_s"), l.Drain)
	assert.LessOrEqual(t, l.Over, sh.Spans.Low("t_over_s"))

	site, _ = saidOf(t)
	l = site.Limits().Benches[0]
	from, by = l.FillWindow()
	assert.Equal(t, l.Fill/2, from)
	assert.Equal(t, l.Fill*3/2, by)
	assert.Less(t, l.Over, site.Sheet(0).Over, "what keeps water from the floor goes by the soonest")
	assert.Equal(t, quantity.Metres(0.03), site.Benches[0].Standpipe.Crest)
}
