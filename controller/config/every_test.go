package config_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

const daily = `flood_at: ["09:00"],          hold: 4 min, strength: 25 %, can_wait: 48 h`

// rare is the example with what is given for its first stage.
func rare(t *testing.T, stage string) (*config.Site, config.Problems) {
	require.Contains(t, string(config.Example), daily)
	return config.ParseOn("bench.yaml", []byte(strings.NewReplacer(daily, stage, "from_day: 10,", "from_day: 9,").Replace(string(config.Example))), checkedOn)
}

func TestDaysLeftOutAreHeldToWhatThePlantsStand(t *testing.T) {
	_, problems := rare(t, `flood_at: ["09:00"], every: 2 d, hold: 4 min, strength: 25 %, can_wait: 40 h`)
	assert.ErrorContains(t, problems.Err(), "plans.basil.1.can_wait: 40 h: from 2026-03-04 on basil_spring waits up to 48 h for a flood and stands 40 h")

	site, problems := rare(t, `flood_at: ["09:00"], every: 2 d, hold: 4 min, strength: 25 %, can_wait: 60 h`)
	require.NoError(t, problems.Err())
	assert.Equal(t, 2, site.Plans[0].Stages[0].Every)

	text := strings.Replace(string(config.Example), daily, `flood_at: ["09:00"], every: 2 d, hold: 4 min, strength: 25 %, can_wait: 60 h`, 1)
	_, problems = config.ParseOn("bench.yaml", []byte(text), checkedOn)
	assert.ErrorContains(t, problems.Err(), "plans.basil.2.can_wait: 30 h: on 2026-03-12 basil_spring waits 47 h 30 min from the last flood of the stage before to the first of the next, and stands 30 h: "+
		"let this stage flood earlier, or the one before later, or allow a longer wait, or begin on the day after a flood of the stage before: from_day: 9 or 11")

	site, problems = rare(t, `flood_at: ["09:00"], every: 1 d, hold: 4 min, strength: 25 %, can_wait: 48 h`)
	require.NoError(t, problems.Err())
	assert.Zero(t, site.Plans[0].Stages[0].Every, "as without it")
}

// What the guard allows in 24 h is that of a day with floods.
func TestADayWithFloodsIsTheBusiest(t *testing.T) {
	often, problems := rare(t, daily)
	require.NoError(t, problems.Err())
	seldom, problems := rare(t, `flood_at: ["09:00"], every: 2 d, hold: 4 min, strength: 25 %, can_wait: 60 h`)
	require.NoError(t, problems.Err())
	assert.Equal(t, often.Limits(), seldom.Limits())
	assert.Greater(t, seldom.Limits().Benches[0].DailyRun, 10*time.Minute)
}

func TestDaysAreWrittenInOneWay(t *testing.T) {
	for text, says := range map[string]string{
		"every: 2":                      `plans.basil.1.every: "2": it wants its unit: write 2 d`,
		"every: 48 h":                   `"48 h": it counts days of the calendar: write 2 d`,
		"every: 36 h":                   `"36 h": it counts whole days of the calendar, such as 2 d`,
		"every: 1.5 d":                  `it counts whole days of the calendar, such as 2 d`,
		"every: 0 d":                    `"0 d": write a number of days from 1 d to 30 d`,
		"every: 31 d":                   `"31 d": write a number of days from 1 d to 30 d`,
		"every: second day":             `"second day": write a number of days, such as 2 d for every second day`,
		"every: [2 d]":                  `after how many days it floods again`,
		"every: 99999999999999999999 d": "every: ",
	} {
		_, problems := rare(t, strings.Replace(daily, "hold:", text+", hold:", 1))
		errs := problems.Errors()
		require.Len(t, errs, 1, text)
		assert.Contains(t, errs[0].String(), says, text)
		assert.Contains(t, errs[0].String(), "bench.yaml:35:", text)
	}
	_, problems := rare(t, `cron: "0 9 * * *", every: 2 d, hold: 4 min, strength: 25 %, can_wait: 60 h`)
	errs := problems.Errors()
	require.Len(t, errs, 1)
	assert.Contains(t, errs[0].String(), "plans.basil.1.every: every and cron: the cron expression says itself on which days it floods; keep one of the two")
}
