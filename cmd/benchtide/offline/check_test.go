package offline

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule"
)

// A plan that leaves pots under their limit on hot days is named with its day; the
// same plan in a cool month, or of a batch that leaves before, is not.
func TestACheckWarnsOfPlansThatAreTooDryOnHotDays(t *testing.T) {
	for name, tt := range map[string]struct {
		with []string
		want string
	}{
		"the example": {nil, ""},
		"one flood a day to the end": {[]string{`cron: "0 8-17/3 * * *"`, `flood_at: ["09:00"]`, "can_wait: 20 h", "can_wait: 30 h", "2026-03-02", "2026-05-02"},
			"bench.yaml:40:5: warning: batches.1: from 2026-05-07 on, on hot days, the pots of basil_spring last"},
		"the same, gone before": {[]string{`cron: "0 8-17/3 * * *"`, `flood_at: ["09:00"]`, "can_wait: 20 h", "can_wait: 30 h", "transplanted: 2026-03-02", "transplanted: 2026-05-02, closed: 2026-05-06"}, ""},
	} {
		text := strings.NewReplacer(tt.with...).Replace(string(config.Example))
		site, problems := config.ParseOn("bench.yaml", []byte(text), schedule.DateOf(2026, time.May, 1))
		require.NotNil(t, site, "%s: %v", name, problems)
		found, err := dryPlans(site)
		require.NoError(t, err)
		if tt.want == "" {
			assert.Empty(t, found, name)
			continue
		}
		require.Len(t, found, 1, name)
		assert.Contains(t, found[0].String(), tt.want, name)
	}
}

// The example's nights are too cold for its basil, by the name of its plan alone; warm
// nights of the file are not, nor are cold ones of plants that bear them.
func TestACheckWarnsOfNightsThatHurtTheCrop(t *testing.T) {
	warm := "floor: drained, climate: {cover: 70 %, lows: 14 to 18 C, highs: 20 to 30 C, humidity: 50 to 80 %, light: 4 to 20 MJ/m2}}"
	for name, tt := range map[string]struct {
		with []string
		want string
	}{
		"the example":  {nil, "basil_spring: from 2026-03-02 to 2026-05-25 nights go down to 10 °C, as taken without site.climate, and cold below about 12 °C hurts basil"},
		"warm nights":  {[]string{"floor: drained}", warm}, ""},
		"a hardy crop": {[]string{"substrate: peat", "substrate: peat, crop: lettuce"}, ""},
		"in °F":        {[]string{"floor: drained}", "floor: drained, units: us}"}, "nights go down to 50 °F, as taken without site.climate, and cold below about 54 °F hurts basil"},
	} {
		site, problems := config.ParseOn("bench.yaml", []byte(strings.NewReplacer(tt.with...).Replace(string(config.Example))), schedule.DateOf(2026, time.March, 1))
		require.NotNil(t, site, "%s: %v", name, problems)
		found, err := illPlaced(site)
		require.NoError(t, err)
		if tt.want == "" {
			assert.Empty(t, found, name)
			continue
		}
		require.Len(t, found, 1, name)
		assert.Contains(t, found[0].String(), tt.want, name)
	}
}

// The calendar says so of the days that it shows.
func TestTheCalendarSaysFromWhichDayPotsGetTooDry(t *testing.T) {
	text := strings.NewReplacer(`cron: "0 8-17/3 * * *"`, `flood_at: ["09:00"]`, "can_wait: 20 h", "can_wait: 30 h").Replace(string(config.Example))
	site, problems := config.Parse("bench.yaml", []byte(text))
	require.NoError(t, problems.Err())
	for from, want := range map[schedule.Date]string{
		schedule.DateOf(2026, time.March, 2):  "",
		schedule.DateOf(2026, time.March, 20): "too dry: from 2026-03-26 on, on hot days, the pots of basil_spring last ",
	} {
		p, err := planOf(site, from, 7)
		require.NoError(t, err)
		var b strings.Builder
		require.NoError(t, p.writeText(&b))
		if want == "" {
			assert.NotContains(t, b.String(), "too dry")
			continue
		}
		assert.Contains(t, b.String(), want)
	}
}
