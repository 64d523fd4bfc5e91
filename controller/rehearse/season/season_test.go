package season

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller/chart"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

func drawn(t *testing.T, data []byte, days int, faults ...rehearse.Fault) (string, *rehearse.Report, *Recorder) {
	t.Helper()
	site, problems := config.Parse("site.yaml", data)
	require.NoError(t, problems.Err())
	sc := rehearse.Plain(schedule.DateOf(2026, time.March, 2), days, 1)
	sc.Faults = faults
	var r Recorder
	report, err := rehearse.Run(context.Background(), site, sc, rehearse.Options{Sample: r.Sample})
	require.NoError(t, err)
	var page bytes.Buffer
	require.NoError(t, Write(&page, site, report, &r))
	return page.String(), report, &r
}

var pictures = regexp.MustCompile(`(?s)<svg.*?</svg>`)

func TestThePageHasAllPicturesAndNeedsNothingElse(t *testing.T) {
	two, err := os.ReadFile("../../../testdata/configs/two-benches.yaml")
	require.NoError(t, err)
	blocked := rehearse.Fault{What: "drain-blocked", Where: "north", At: time.Date(2026, 3, 5, 1, 0, 0, 0, time.UTC), Size: 0.8}
	for what, c := range map[string]struct {
		data   []byte
		faults []rehearse.Fault
		want   int
	}{
		"one bench, all well":   {config.Example, nil, 5},
		"one bench, a trip":     {config.Example, []rehearse.Fault{blocked}, 6},
		"two benches, one tank": {two, nil, 8},
	} {
		page, _, _ := drawn(t, c.data, 10, c.faults...)
		found := pictures.FindAllString(page, -1)
		assert.Len(t, found, c.want, what)
		for _, p := range found {
			assert.NoError(t, wellFormed(p), what)
			assert.NotContains(t, p, "NaN", what)
		}
		assert.NotRegexp(t, `(src|href)=|@import`, page, what)
	}
}

func TestThePageCallsThingsByTheirTitles(t *testing.T) {
	titled := strings.NewReplacer("  north:\n", "  north:\n    title: Nordtisch\n", "  tank:\n", "  tank:\n    title: 北の水槽\n",
		"name: basil_spring,", "name: basil_spring, title: الريحان,").Replace(string(config.Example))
	blocked := rehearse.Fault{What: "drain-blocked", Where: "north", At: time.Date(2026, 3, 5, 1, 0, 0, 0, time.UTC), Size: 0.8}
	page, _, _ := drawn(t, []byte(titled), 10, blocked)
	for _, words := range []string{"Floods of Nordtisch", "Fill and fall of Nordtisch", "Water in 北の水槽", "longest wait of الريحان", "<td>Nordtisch: "} {
		assert.Contains(t, page, words)
	}
	assert.NotRegexp(t, `\b(north|tank|basil_spring)\b`, page)
}

func wellFormed(document string) error {
	for d := xml.NewDecoder(strings.NewReader(document)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

func TestTheSameRehearsalDrawsTheSameBytes(t *testing.T) {
	first, _, _ := drawn(t, config.Example, 5)
	second, _, _ := drawn(t, config.Example, 5)
	assert.Equal(t, first, second)
}

func TestSamplesShowEachFloodUpToItsPeak(t *testing.T) {
	_, report, r := drawn(t, config.Example, 5)
	deepest, floods, wet := 0.0, 0, false
	for _, p := range r.depth[0] {
		deepest = max(deepest, p.Y)
		if now := p.Y > 25; now != wet {
			wet = now
			if now {
				floods++
			}
		}
	}
	assert.InDelta(t, report.PeakDepthMM, deepest, 0.2)
	assert.Equal(t, 5, floods)
	for _, p := range r.water[0] {
		assert.LessOrEqual(t, p.Y, 100.0001)
	}
}

func TestTheDayOfAStampIsTheOneOnTheWall(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	s := drawing{from: time.Date(2026, 3, 2, 0, 0, 0, 0, dublin)}
	for stamp, want := range map[string]int{
		"2026-03-02T00:00:00+00:00": 0, "2026-03-02T23:59:59+00:00": 0, "2026-03-29T00:30:00+00:00": 27,
		"2026-03-30T00:30:00+01:00": 28, "2026-03-01T12:00:00+00:00": -1, "": -1,
	} {
		assert.Equal(t, want, s.day(stamp), stamp)
	}
}

func TestThinningKeepsExtremesAndGaps(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		var all series
		least, most := math.Inf(1), math.Inf(-1)
		for i := range rapid.IntRange(2, 5000).Draw(r, "points") {
			y := rapid.Float64Range(-100, 100).Draw(r, "y")
			all = append(all, chart.Point{X: float64(i), Y: y})
			least, most = min(least, y), max(most, y)
		}
		low, high, n, last := math.Inf(1), math.Inf(-1), 0, math.Inf(-1)
		for _, piece := range all.pieces() {
			for _, p := range piece {
				require.Greater(r, p.X, last)
				low, high, n, last = min(low, p.Y), max(high, p.Y), n+1, p.X
			}
		}
		require.Equal(r, []float64{least, most}, []float64{low, high})
		require.LessOrEqual(r, n, 4*(columns+1))
	})
	gap := series{{X: 0, Y: 1}, {X: 1, Y: 2}, {X: 2, Y: math.NaN()}, {X: 3, Y: 4}, {X: 4, Y: 5}}
	assert.Len(t, gap.pieces(), 2)
}
