package offline

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
)

// against lives through 21 days with the example and with what is altered in it.
func against(t *testing.T, c Rehearse, oldNew ...string) (out string, told lived) {
	t.Helper()
	dir := t.TempDir()
	c.Against = filepath.Join(dir, "other.yaml")
	require.NoError(t, os.WriteFile(c.Against, []byte(strings.NewReplacer(oldNew...).Replace(string(config.Example))), 0o644))
	days := 21
	c.Days = &days
	require.NoError(t, c.From.UnmarshalText([]byte("2026-03-02")))
	c.Config = filepath.Join(dir, "bench.yaml")
	require.NoError(t, os.WriteFile(c.Config, config.Example, 0o644))
	var text, errs bytes.Buffer
	require.NoError(t, c.Run(t.Context(), &cli.Session{Out: &text, Err: &errs}))
	if c.JSON {
		require.NoError(t, json.Unmarshal(text.Bytes(), &told))
	}
	return text.String(), told
}

func (l *lived) row(t *testing.T, what string) livedRow {
	t.Helper()
	for _, r := range l.Rows {
		if r.What == what {
			return r
		}
	}
	t.Fatalf("no row of %s", what)
	return livedRow{}
}

// Seedlings in full strength are behind by that, and what has nothing to do with it is
// the same in every nature.
func TestWhatDiffersBetweenTwoPlansComesFirst(t *testing.T) {
	pictures := t.TempDir()
	_, l := against(t, Rehearse{JSON: true, Report: pictures}, "strength: 25 %", "strength: 100 %")
	assert.Greater(t, l.row(t, "basil_spring: behind, strength").Less[0], 1.0)
	assert.Greater(t, l.row(t, "basil_spring: lost").Less[0], 1.0)
	assert.Zero(t, l.row(t, "proven floods").Less)
	require.NotNil(t, l.Forecast[0])
	assert.Greater(t, *l.Forecast[1], *l.Forecast[0]+1)
	picture, err := os.ReadFile(filepath.Join(pictures, "against.svg"))
	require.NoError(t, err)
	for _, word := range []string{">in all<", ">strength<", ">dark<", ">A<", ">B<", "basil_spring: days behind"} {
		assert.Contains(t, string(picture), word)
	}

	text, _ := against(t, Rehearse{}, "strength: 25 %", "strength: 100 %")
	differs, same, both := strings.Cut(text, "The same in both")
	require.True(t, both, text)
	assert.Contains(t, differs, "basil_spring: behind, strength, d")
	assert.Contains(t, same, "proven floods")
}

func TestTheSameFileTwiceDiffersInNothing(t *testing.T) {
	_, l := against(t, Rehearse{JSON: true})
	for _, r := range l.Rows {
		assert.Zero(t, r.Less, r.What)
	}
	assert.Equal(t, l.Forecast[0], l.Forecast[1])
}

func TestTwoPlansAreLivedThroughPlainDaysOnly(t *testing.T) {
	for _, c := range []Rehearse{{Scenario: "week.yaml"}, {Metrics: "season"}, {Score: 3}, {Campaign: 3}} {
		c.Against = "other.yaml"
		assert.ErrorContains(t, c.Validate(), "--against lives through plain days with two files")
	}
}

func TestNoDifferenceIsPrintedBelowNothing(t *testing.T) {
	require.Equal(t, "+0.0 (+0.0 to -0.1)", spanText([3]float64{-0.04, -0.049, -0.06}, "%+.1f"))
}
