package config_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

func paper(t *testing.T, name string, data []byte) string {
	t.Helper()
	site, problems := config.Parse(name, data)
	var page bytes.Buffer
	require.NoError(t, config.NewReport(name, site, problems).WriteHTML(&page))
	return page.String()
}

var svg = regexp.MustCompile(`(?s)<svg viewBox="0 0 (\d+) (\d+)".*?</svg>`)

func TestEachBenchGetsAPageThatNeedsNothingElse(t *testing.T) {
	files, err := filepath.Glob(configs + "*.yaml")
	require.NoError(t, err)
	for _, path := range files {
		if strings.HasPrefix(filepath.Base(path), "wrong-") {
			continue
		}
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		site, problems := config.Parse(path, data)
		require.NoError(t, problems.Err())
		page := paper(t, path, data)
		assert.Equal(t, len(site.Benches), strings.Count(page, "<section>"), path)
		assert.NotRegexp(t, `(src|href)=|url\(|@import`, page)
		pictures := svg.FindAllString(page, -1)
		assert.Len(t, pictures, 2*len(site.Benches), path)
		for _, p := range pictures {
			assert.NoError(t, wellFormed(p), path)
			assert.NotContains(t, p, "NaN")
			assert.NotContains(t, p, `="-`, "%s: it leaves the picture or has a size below zero", path)
		}
	}
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

func TestThePictureIsToScale(t *testing.T) {
	page := paper(t, "example.yaml", config.Example)
	corner := svg.FindAllString(page, -1)[1]
	y := func(pattern string) float64 {
		m := regexp.MustCompile(pattern).FindStringSubmatch(corner)
		require.NotNil(t, m, pattern)
		v, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		return v
	}
	floor, rim := y(`class="wall" x1="4.0" y1="([\d.]+)"`), y(`class="wall" x1="255.0" y1="[\d.]+" x2="255.0" y2="([\d.]+)"`)
	surface := y(`class="surface" x1="4.0" y1="([\d.]+)"`)
	site, _ := config.Parse("example.yaml", config.Example)
	peak := float64(site.Benches[0].Standpipe.Crest + site.Sheet(0).OverflowHead)
	assert.InDelta(t, peak/0.075, (floor-surface)/(floor-rim), 0.002)
}

func TestWarningsAndReasonsStandOnThePage(t *testing.T) {
	page := paper(t, "example.yaml", config.Example)
	for _, want := range []string{"V_flood", "operating point", "of what small pumps take gets there", "top-up mark", "fill window", "daily at 09:00"} {
		assert.Contains(t, page, want)
	}
	data, err := os.ReadFile(configs + "two-benches.yaml")
	require.NoError(t, err)
	assert.Contains(t, paper(t, "two-benches.yaml", data), "their stages ask lettuce_old for 60 %")
}

func TestAFileThatIsNotFitForUseGetsItsErrorsOnThePage(t *testing.T) {
	page := paper(t, "bench.yaml", []byte("site: {name: <b>odd</b>}\n"))
	assert.Contains(t, page, "not fit for use")
	assert.Contains(t, page, "Line 1")
	assert.NotContains(t, page, "<b>odd</b>")
}
