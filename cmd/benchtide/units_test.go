package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	// metricWords and usWords are quantities in the units of the other measure.
	metricWords = regexp.MustCompile(`\d ?(mm|cm|m|km|L|mL|L/h|L/min|°C|C|kg|kg/m²|m²|g)\b|\d ?(°C|m²|kg/m²)|\b[Ll]itres?\b|\bmillimetres?\b`)
	usWords     = regexp.MustCompile(`\d ?(in|ft|gal|gal/h|gph|fl oz|qt|pt|lb|lb/ft²|F|psi)\b|\d ?(°F|ft²|lb/ft²)|\b[Gg]allons?\b`)

	// odd is a figure with a point and more than three figures beside a unit.
	odd = regexp.MustCompile(`\b\d*\.?\d+ ?(mm|m|L|mL|L/h|°C|kg/m²|m²|in|ft|gal|gal/h|fl oz|lb/ft²|°F|ft²)(\b|$)`)
)

func oddFigures(text string) (found []string) {
	for _, m := range odd.FindAllString(text, -1) {
		figure := strings.TrimLeft(regexp.MustCompile(`^[\d.]+`).FindString(m), "0.")
		if strings.Contains(m, ".") && len(strings.ReplaceAll(figure, ".", "")) > 3 {
			found = append(found, m)
		}
	}
	return found
}

// Everything that can be printed of a site from its file is in the units of the
// site, and no figure is finer than people can use.
func TestASiteIsReadInItsOwnUnits(t *testing.T) {
	us, err := os.ReadFile("../../testdata/configs/us.yaml")
	require.NoError(t, err)
	faults := `from: 2026-03-02
days: 14
seed: 7
weather: hot
faults:
  - {what: drain-blocked, where: north, at: "2026-03-04 09:01", size: 80 %}
  - {what: reservoir-leak, where: tank, at: "2026-03-08 10:00", for: 30 h}
  - {what: table-leak, where: north, at: "2026-03-11 10:00"}
acts:
  - {do: reset, where: north, at: "2026-03-04 18:00", found: leaf in the standpipe}
`
	for units, c := range map[string]struct{ wrong, right *regexp.Regexp }{
		"us": {metricWords, usWords}, "metric": {usWords, metricWords},
	} {
		t.Run(units, func(t *testing.T) {
			dir := t.TempDir()
			file, scenario, report := filepath.Join(dir, "bench.yaml"), filepath.Join(dir, "faults.yaml"), filepath.Join(dir, "report")
			require.NoError(t, os.WriteFile(file, bytes.Replace(us, []byte("units: us"), []byte("units: "+units), 1), 0o600))
			require.NoError(t, os.WriteFile(scenario, []byte(faults), 0o600))
			texts := map[string]string{}
			for _, args := range []string{
				"check -c FILE", "check --html -c FILE", "calendar -c FILE --from 2026-03-02 --days 14", "calendar -c FILE --from 2026-03-02 --days 14 --plan",
				"rehearse -c FILE -s FAULTS", "rehearse -c FILE -s FAULTS --report REPORT",
			} {
				var out, notices bytes.Buffer
				run(t.Context(), strings.Fields(strings.NewReplacer("FILE", file, "FAULTS", scenario, "REPORT", report).Replace(args)), strings.NewReader(""), &out, &notices)
				texts[args] = out.String() + notices.String()
				assert.NotEmpty(t, texts[args], args)
			}
			written, err := filepath.Glob(report + "/*")
			require.NoError(t, err)
			for _, path := range written {
				if ext := filepath.Ext(path); ext == ".html" || ext == ".svg" || ext == ".txt" {
					text, err := os.ReadFile(path)
					require.NoError(t, err)
					texts[filepath.Base(path)] = string(text)
				}
			}
			said := 0
			for what, text := range texts {
				text = peopleRead(text)
				said += len(c.right.FindAllString(text, -1))
				for line := range strings.Lines(text) {
					assert.Empty(t, c.wrong.FindAllString(line, -1), "%s: %s", what, strings.TrimSpace(line))
					assert.Empty(t, oddFigures(line), "%s: %s", what, strings.TrimSpace(line))
				}
			}
			assert.Greater(t, said, 60, "quantities in units of the site")
		})
	}
}

var (
	styles = regexp.MustCompile(`(?s)<style.*?</style>|<script.*?</script>`)
	tags   = regexp.MustCompile(`<[^>]*>`)
)

// peopleRead is what is left of a page without its tags.
func peopleRead(text string) string {
	if strings.Contains(text, "<svg") || strings.Contains(text, "<html") {
		text = tags.ReplaceAllString(styles.ReplaceAllString(text, ""), "\n")
	}
	return strings.ReplaceAll(text, "mol/m²", "mol")
}
