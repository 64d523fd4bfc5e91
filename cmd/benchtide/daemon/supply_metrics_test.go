package daemon

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A reservoir's days are on record once somebody noted a top-up, not before.
func TestHowLongAReservoirLastsIsShownOnceATopUpIsOnRecord(t *testing.T) {
	t.Parallel()
	url := start(t, "demo", "--listen", "127.0.0.1:0").until(metricsAt)
	assert.NotContains(t, scrapeFrom(t, url), "benchtide_reservoir_lasts_seconds{")

	note := strings.NewReader(`{"kind": "top-up", "place": "tank", "value": 30}`)
	r, err := http.NewRequest("POST", strings.Replace(url, "metrics", "api/v1/diary", 1), note)
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("X-Benchtide", "act")
	response, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	require.NoError(t, response.Body.Close())
	require.Equal(t, http.StatusOK, response.StatusCode)

	days := sample(t, scrapeFrom(t, url), `benchtide_reservoir_lasts_seconds{reservoir="tank"}`) / (24 * time.Hour).Seconds()
	assert.InDelta(t, 9.1, days, 1, "a tank just filled to the mark, as the page says of a full one")
}
