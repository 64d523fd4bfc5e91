package schedule

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestStagesAreDescribedInPlainWords(t *testing.T) {
	for _, row := range []struct {
		stage Stage
		want  string
	}{
		{Stage{At: at(t, "09:00")}, "daily at 09:00"},
		{Stage{At: at(t, "08:30", "15:00")}, "daily at 08:30 and 15:00"},
		{Stage{Spread: 1}, "1 flood in the middle of the light hours"},
		{Stage{Spread: 4}, "4 floods spread over the light hours"},
		{Stage{Cron: mustCron(t, "0 8-17/3 * * *")}, "daily at 08:00, 11:00, 14:00 and 17:00"},
		{Stage{Cron: mustCron(t, "@daily")}, "daily at 00:00"},
		{Stage{Cron: mustCron(t, "*/15 8-17 * * *")}, "daily 40 times from 08:00 to 17:45"},
		{Stage{Cron: mustCron(t, "0 9 * * 1,4")}, "at 09:00 on Monday and Thursday"},
		{Stage{Cron: mustCron(t, "0 9,15 * * MON-WED")}, "at 09:00 and 15:00 on Monday, Tuesday and Wednesday"},
		{Stage{Cron: mustCron(t, "0 9 1-31 * 1")}, "daily at 09:00"},
		{Stage{Cron: mustCron(t, "0 9 1 * 1")}, `at 09:00 on the days of cron "0 9 1 * 1"`},
		{Stage{Cron: mustCron(t, "0 9 * 6-8 *")}, `at 09:00 on the days of cron "0 9 * 6-8 *"`},
	} {
		assert.Equal(t, row.want, Describe(row.stage))
	}
}
