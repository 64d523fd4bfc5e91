//go:build prometheus

package prometheus

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

// Every query of dashboards and rules is evaluated by a real server on a season
// that was rehearsed, and those of dashboards find something there.
func TestEveryQueryOfDashboardsAndRulesIsAnsweredFromARehearsal(t *testing.T) {
	dir := t.TempDir()
	command(t, benchtide, "rehearse", "--from", "2026-03-02", "--days", "24", "--seed", "1", "--metrics", dir)
	data := filepath.Join(dir, "data")
	command(t, "promtool", "tsdb", "create-blocks-from", "--max-block-duration=744h", "openmetrics", filepath.Join(dir, "season.om"), data)
	config := filepath.Join(dir, "prometheus.yml")
	require.NoError(t, os.WriteFile(config, []byte("global: {}\n"), 0o600))
	s := serve(t, config, data, "--query.lookback-delta=20m")
	at := time.Date(2026, 3, 24, 12, 0, 0, 0, time.UTC)

	run := s.query(`increase(benchtide_output_run_seconds_total{output="flood_pump"}[1d])`, at)
	require.Len(t, run, 1)
	seconds, err := strconv.ParseFloat(run[0].Value[1].(string), 64)
	require.NoError(t, err)
	assert.InDelta(t, 1100, seconds, 150, "two floods a day of nine minutes each")

	n := 0
	for _, e := range dashboardQueries(t) {
		assert.NotEmpty(t, s.query(e, at), e)
		n++
	}
	t.Logf("%d queries of dashboards find something", n)
	n = 0
	for _, e := range ruleQueries(t) {
		s.query(e, at)
		n++
	}
	t.Logf("%d queries of rules are evaluated", n)
}

// dashboardQueries are the queries of all panels, for every site and bench.
func dashboardQueries(t *testing.T) (all []string) {
	files, err := filepath.Glob("../dashboards/*.json")
	require.NoError(t, err)
	require.Len(t, files, 2)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		var board struct {
			Panels []struct {
				Title   string
				Targets []struct{ Expr string }
			}
		}
		require.NoError(t, json.Unmarshal(text, &board), name)
		for _, p := range board.Panels {
			require.NotEmpty(t, p.Targets, "%s: %s", name, p.Title)
			for _, target := range p.Targets {
				all = append(all, strings.NewReplacer("$site", ".*", "$bench", ".*").Replace(target.Expr))
			}
		}
	}
	return all
}

func ruleQueries(t *testing.T) (all []string) {
	for _, name := range []string{"rules/alerts.yml", "rules/recording.yml"} {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		var file struct {
			Groups []struct{ Rules []struct{ Expr string } }
		}
		require.NoError(t, yaml.Unmarshal(text, &file), name)
		for _, g := range file.Groups {
			for _, r := range g.Rules {
				all = append(all, r.Expr)
			}
		}
	}
	return all
}
