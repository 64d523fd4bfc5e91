package rehearse

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func asText(t *testing.T, rep *Report) string {
	var b bytes.Buffer
	require.NoError(t, rep.WriteText(&b))
	return b.String()
}

func TestTextShowsStagesAndFloodsDayByDay(t *testing.T) {
	text := asText(t, rehearsed(t, example(t), Plain(date(t, "2026-03-10"), 3, 1)))
	assert.Contains(t, text, `3 days from 2026-03-10, normal weather, seed 1
4 floods: 4 proven

Day by day; + is a proven flood
  -- stage 1: 1 flood a day, hold 4 min, strength 25 %
  Tue 10 Mar  09:00 +
  Wed 11 Mar  09:00 +
  -- stage 2: 2 floods a day, hold 6 min, strength 50 %
  Thu 12 Mar  08:30 +  15:00 +

Water: `)
	assert.True(t, strings.HasSuffix(text, "\nEvery invariant held.\n"), text)
}

func TestTextNamesWhatIsNotProven(t *testing.T) {
	site := example(t)
	text := asText(t, rehearsed(t, site, scenario(t, "full-stuck-low", site)))
	for _, line := range []string{
		"  Tue  3 Mar  09:00 unproven (retried)\n",
		"  Thu  5 Mar  09:00 refused  --:-- catch-up +\n",
		"  03-05 17:00  reset north: done\n",
	} {
		assert.Contains(t, text, line)
	}
	assert.Contains(t, text, "fill-window, latched: FULL was not made")
}

func TestTextNamesTheBenchWhereThereAreSeveral(t *testing.T) {
	site := configured(t, "two-benches.yaml")
	text := asText(t, rehearsed(t, site, Plain(date(t, "2026-04-01"), 1, 1)))
	assert.Contains(t, text, "  Wed  1 Apr  upper  09:00 +  15:00 +\n")
	assert.Contains(t, text, "  Wed  1 Apr  lower  07:00 +  11:00 +  15:00 +  19:00 +\n")
}

func TestTextCountsAnInterlockThatActsAgain(t *testing.T) {
	site := example(t)
	text := asText(t, rehearsed(t, site, scenario(t, "unattended-hot", site)))
	assert.Contains(t, text, "times, last 04-20 17:00)")
	assert.Equal(t, 1, strings.Count(text, "reservoir-low: a flood may not start"))
	assert.Contains(t, text, "more, all in the JSON form of this report")
}

func TestTextShowsBrokenInvariants(t *testing.T) {
	rep := rehearsed(t, example(t), plain(t))
	rep.BrokenInvariants = []string{"2026-03-02T09:14:00+00:00 invariant 3: north: too long"}
	assert.False(t, rep.Fine())
	assert.Contains(t, asText(t, rep), "BROKEN INVARIANTS: 1\n  2026-03-02T09:14:00+00:00 invariant 3: north: too long\n")
}

func TestTextKeepsWithinEightyColumns(t *testing.T) {
	files, err := filepath.Glob("../../testdata/scenarios/*.yaml")
	require.NoError(t, err)
	site := example(t)
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".yaml")
		for line := range strings.Lines(asText(t, rehearsed(t, site, scenario(t, name, site)))) {
			assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), width, "%s: %s", name, line)
		}
	}
}
