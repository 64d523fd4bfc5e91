package config_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule"
)

const planted = "transplanted: 2026-03-02"

func withDays(days string) (*config.Site, config.Problems) {
	return config.ParseOn("bench.yaml", []byte(strings.Replace(string(config.Example), planted, days, 1)), checkedOn)
}

// Ages count from the transplant where there is one, else from sowing.
func TestAgesCountFromTheTransplantOrFromSowing(t *testing.T) {
	for days, want := range map[string]struct{ began, first string }{
		planted:                        {"transplanted", "2026-03-02"},
		planted + ", sown: 2026-02-09": {"transplanted", "2026-03-02"},
		"sown: 2026-02-09":             {"sown", "2026-02-09"},
		planted + ", sown: 2026-03-02": {"sown", "2026-03-02"},
	} {
		site, problems := withDays(days)
		require.NoError(t, problems.Err(), days)
		b := &site.Batches[0]
		assert.Equal(t, want.began, b.Began(), days)
		assert.Equal(t, want.first, b.Transplanted.String(), days)
		c, err := site.Calendar()
		require.NoError(t, err)
		next, ok := c.After(0, schedule.CivilOf(2026, 1, 1, 0, 0, 0))
		require.True(t, ok)
		assert.Equal(t, want.first, next.Slot.Local.Date().String(), days)
	}
}

func TestSlipsInTheDayOfSowingAreNamed(t *testing.T) {
	for days, says := range map[string]string{
		planted + ", sown: 2026-03-20":         "batches.1.sown: 2026-03-20: that is after the batch was transplanted on 2026-03-02, and plants are sown first",
		planted + ", sown: 2027-02-09":         "batches.1.sown: 2027-02-09: that is after the batch was transplanted on 2026-03-02",
		planted + ", sown: 2025-02-09":         "batches.1.sown: 2025-02-09: that is 1.1 years before the batch was transplanted on 2026-03-02: look at the year",
		planted + ", sown: 1926-02-09":         "batches.1.sown: 1926-02-09: the year cannot be right",
		"sown: 2025-02-09":                     "batches.1.sown: 2025-02-09: that is 1.2 years ago and the batch still stands",
		"sown: 2027-02-09":                     "batches.1.sown: 2027-02-09: that is 0.8 years from now: look at the year",
		"sown: 2/3/2026":                       "year-month-day",
		"sown: 2026-02-09, closed: 2026-02-01": "batches.1.closed: 2026-02-01: that is before the batch was sown on 2026-02-09",
	} {
		_, problems := withDays(days)
		require.NotEmpty(t, problems, days)
		assert.Contains(t, problems[0].String(), says, days)
		assert.LessOrEqual(t, len(problems), 1, "%v", problems)
	}
	_, problems := config.ParseOn("bench.yaml", []byte(strings.Replace(string(config.Example), planted+", ", "", 1)), checkedOn)
	assert.EqualError(t, problems.Err(), "bench.yaml:40:5: batches.1.transplanted: missing: the day it was transplanted into its pots and came onto the bench, "+
		"from which ages count, such as 2026-03-02; where plants stay in the pots they were sown in, write sown")
}
