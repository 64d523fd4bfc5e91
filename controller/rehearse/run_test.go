package rehearse

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule"
)

func example(t testing.TB) *config.Site {
	t.Helper()
	site, problems := config.Parse("bench.yaml", config.Example)
	require.NoError(t, problems.Err())
	return site
}

func date(t testing.TB, s string) schedule.Date {
	d, err := schedule.ParseDate(s)
	require.NoError(t, err)
	return d
}

func TestSixtyDaysOnTheExample(t *testing.T) {
	rep, err := Run(t.Context(), example(t), Plain(date(t, "2026-03-02"), 60, 1), Options{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, rep.WriteText(&b))
	os.Stdout.Write(b.Bytes())
	assert.Empty(t, rep.BrokenInvariants)
	assert.Zero(t, rep.SpilledL)
	j, _ := json.MarshalIndent(rep, "", " ")
	os.WriteFile("/tmp/rep.json", j, 0o644)
}
