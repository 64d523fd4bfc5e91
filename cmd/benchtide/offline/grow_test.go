package offline

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

// planted is the example with one batch transplanted on a date and a plan of
// these lines.
func planted(t *testing.T, on string, stages ...string) *config.Site {
	t.Helper()
	text := strings.Replace(string(config.Example), "transplanted: 2026-03-02", "transplanted: "+on, 1)
	before, after, ok := strings.Cut(text, "  basil:\n")
	require.True(t, ok)
	after = after[strings.Index(after, "\nbatches:"):]
	site, problems := config.Parse(cli.ExampleName, []byte(before+"  basil:\n    - "+strings.Join(stages, "\n    - ")+"\n"+after))
	require.NoError(t, problems.Err())
	return site
}

const firstStage = `{from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}`

// followed is the plan's lines with all advice for these days in it.
func followed(t *testing.T, site *config.Site, from schedule.Date, days int) (lines []string) {
	t.Helper()
	o, err := outlook.Of(site, from, days, nil)
	require.NoError(t, err)
	require.Len(t, o.Batches, 1)
	for _, st := range grow.Follow(site.Plans[0], o.Batches[0].Advice).Stages {
		lines = append(lines, stageLine(st))
	}
	return lines
}

func TestSixtyHotDaysKeepEveryBatchAboveItsLimitByTheAdviceAndNotByTheFirstStageAlone(t *testing.T) {
	const days = 60
	for _, on := range []string{"2026-03-02", "2026-06-01"} {
		from, err := schedule.ParseDate(on)
		require.NoError(t, err)
		alone := planted(t, on, firstStage)
		advised := planted(t, on, followed(t, alone, from, days)...)
		batch, err := alone.Demand(0)
		require.NoError(t, err)
		limit := float64(batch.Pot.Threshold() / batch.Pot.Holds())
		for seed := range uint64(4) {
			driest := func(site *config.Site) float64 {
				s := rehearse.Plain(from, days, seed)
				s.Weather = "hot"
				report, err := rehearse.Run(context.Background(), site, s, rehearse.Options{})
				require.NoError(t, err)
				assert.Empty(t, report.BrokenInvariants)
				assert.Zero(t, report.SpilledL)
				return report.LowestWaterFraction["basil_spring"]
			}
			dry, moist := driest(alone), driest(advised)
			t.Logf("from %s, seed %d: limit %.3f, first stage alone %.3f, advice followed %.3f", on, seed, limit, dry, moist)
			assert.Less(t, dry, limit)
			assert.GreaterOrEqual(t, moist, limit)
		}
	}
}

func TestAdviceThatIsFollowedNeedsNoMoreAdvice(t *testing.T) {
	from, err := schedule.ParseDate("2026-03-02")
	require.NoError(t, err)
	site := planted(t, "2026-03-02", firstStage)
	lines := followed(t, site, from, 60)
	require.Greater(t, len(lines), 2)
	o, err := outlook.Of(planted(t, "2026-03-02", lines...), from, 60, nil)
	require.NoError(t, err)
	assert.True(t, o.Fits())
	for _, a := range o.Batches[0].Advice {
		assert.Equal(t, grow.Fits, a.Verdict, a.Words)
	}
}

func TestThePlanIsDrawnAsWellFormedSVGAndAsJSON(t *testing.T) {
	from, err := schedule.ParseDate("2026-04-02")
	require.NoError(t, err)
	o, err := outlook.Of(planted(t, "2026-03-02", firstStage), from, 10, nil)
	require.NoError(t, err)
	var svg bytes.Buffer
	require.NoError(t, outlookPaper{o}.writeSVG(&svg))
	d := xml.NewDecoder(&svg)
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
	}
	out, err := json.Marshal(outlookPaper{o}.object())
	require.NoError(t, err)
	var j outlookJSON
	require.NoError(t, json.Unmarshal(out, &j))
	assert.False(t, j.Fits)
	require.Len(t, j.Batches[0].Courses, 3)
	assert.NotEmpty(t, j.Batches[0].Courses[2].BelowAt)
	assert.Less(t, j.Batches[0].Courses[2].Lowest, j.Batches[0].Limit)
	assert.Len(t, j.Batches[0].Floods, 10)
}
