package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
)

func exampleSite(t *testing.T) *config.Site {
	t.Helper()
	site, problems := config.Parse(cli.ExampleName, config.Example)
	require.NoError(t, problems.Err())
	return site
}

func TestTheDemoBeginsBeforeTheFirstFloodOfADayInMidPlan(t *testing.T) {
	begin, err := demoStart(exampleSite(t))
	require.NoError(t, err)
	assert.Equal(t, "2026-03-12T08:18:00Z", begin.UTC().Format(time.RFC3339))
}
