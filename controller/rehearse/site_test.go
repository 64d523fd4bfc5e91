package rehearse

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/schedule"
)

func example(t testing.TB) *config.Site { return parse(t, string(config.Example)) }

// altered is the example with each old text replaced by the new one after it.
func altered(t testing.TB, oldNew ...string) *config.Site {
	for i := 0; i < len(oldNew); i += 2 {
		require.Contains(t, string(config.Example), oldNew[i])
	}
	return parse(t, strings.NewReplacer(oldNew...).Replace(string(config.Example)))
}

func parse(t testing.TB, text string) *config.Site {
	site, problems := config.Parse("bench.yaml", []byte(text))
	require.NoError(t, problems.Err())
	return site
}

func configured(t testing.TB, name string) *config.Site {
	data, err := os.ReadFile(filepath.Join("../../testdata/configs", name))
	require.NoError(t, err)
	return parse(t, string(data))
}

func date(t testing.TB, s string) schedule.Date {
	d, err := schedule.ParseDate(s)
	require.NoError(t, err)
	return d
}

func scenario(t testing.TB, name string, site *config.Site) Scenario {
	data, err := os.ReadFile(filepath.Join("../../testdata/scenarios", name+".yaml"))
	require.NoError(t, err)
	s, err := ParseScenario(name+".yaml", data, site)
	require.NoError(t, err)
	return s
}

func rehearsed(t testing.TB, site *config.Site, s Scenario) *Report {
	rep, err := Run(t.Context(), site, s, Options{})
	require.NoError(t, err)
	return rep
}

func asJSON(t testing.TB, rep *Report) string {
	b, err := json.Marshal(rep)
	require.NoError(t, err)
	return string(b)
}

// byDay counts the floods of each date of which keep is true.
func byDay(rep *Report, keep func(controller.Row) bool) map[string]int {
	n := map[string]int{}
	for _, r := range rep.Ledger {
		if keep(r) {
			n[r.Slot[:10]]++
		}
	}
	return n
}
