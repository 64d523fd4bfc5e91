package schedule

import (
	"bufio"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func mustCron(t testing.TB, expr string) *Cron {
	t.Helper()
	c, err := ParseCron(expr)
	require.NoError(t, err)
	return c
}

// The file says how it was made.
func TestCronAgreesWithCroniter(t *testing.T) {
	file, err := os.Open("../testdata/published/cron-croniter.txt")
	require.NoError(t, err)
	defer file.Close()
	expressions, occurrences := 0, 0
	for lines := bufio.NewScanner(file); lines.Scan(); {
		expr, deltas, ok := strings.Cut(lines.Text(), "\t")
		if !ok {
			continue
		}
		expressions++
		c, at := mustCron(t, expr), CivilOf(2023, 11, 17, 13, 37, 0)
		for _, run := range strings.Fields(deltas) {
			step, times := run, "1"
			if before, after, repeated := strings.Cut(run, "x"); repeated {
				step, times = before, after
			}
			minutes, err := strconv.Atoi(step)
			require.NoError(t, err)
			n, err := strconv.Atoi(times)
			require.NoError(t, err)
			for range n {
				want := at + Civil(minutes)*60
				got, ok := c.Next(at)
				require.True(t, ok, expr)
				require.Equal(t, want.String(), got.String(), "%s after %v", expr, at)
				at = want
				occurrences++
			}
		}
	}
	assert.GreaterOrEqual(t, expressions, 60)
	assert.GreaterOrEqual(t, occurrences, 15000)
}

func TestCronFollowsTheCrontabRules(t *testing.T) {
	// Fields and ranges: POSIX.1 XCU crontab; names, steps and the rule that
	// either of two restricted day fields is enough: Debian crontab(5).
	for _, row := range []struct {
		expr, from string
		want       []string
	}{
		{"30 4 1,15 * 5", "2024-01-01", []string{"2024-01-01T04:30", "2024-01-05T04:30", "2024-01-12T04:30", "2024-01-15T04:30",
			"2024-01-19T04:30", "2024-01-26T04:30", "2024-02-01T04:30", "2024-02-02T04:30"}},
		{"0 0 13 * 5", "2024-01-01", []string{"2024-01-05T00:00", "2024-01-12T00:00", "2024-01-13T00:00", "2024-01-19T00:00",
			"2024-01-26T00:00", "2024-02-02T00:00", "2024-02-09T00:00", "2024-02-13T00:00"}},
		{"0 */5 * * *", "2024-01-01", []string{"2024-01-01T00:00", "2024-01-01T05:00", "2024-01-01T10:00", "2024-01-01T15:00",
			"2024-01-01T20:00", "2024-01-02T00:00"}}, // steps begin anew at midnight
		{"0 0 31 * *", "2024-01-01", []string{"2024-01-31T00:00", "2024-03-31T00:00", "2024-05-31T00:00", "2024-07-31T00:00",
			"2024-08-31T00:00", "2024-10-31T00:00", "2024-12-31T00:00"}},
		{"0 0 29 2 *", "2024-01-01", []string{"2024-02-29T00:00", "2028-02-29T00:00", "2032-02-29T00:00"}},
		{"0 0 */10 * *", "2024-01-01", []string{"2024-01-01T00:00", "2024-01-11T00:00", "2024-01-21T00:00", "2024-01-31T00:00", "2024-02-01T00:00",
			"2024-02-11T00:00", "2024-02-21T00:00", "2024-03-01T00:00"}}, // and with each month
		// A Friday the 13th needs both fields, which cron cannot say: RFC 5545
		// 3.8.5.3 gives 13 Feb, 13 Mar and 13 Nov 1998, all among these days.
		{"0 0 13 2,3,11 *", "1998-01-01", []string{"1998-02-13T00:00", "1998-03-13T00:00", "1998-11-13T00:00"}},
		// RFC 5545 3.8.5.3, HOURLY;INTERVAL=3 until 17:00 and MINUTELY;INTERVAL=15 ×6.
		{"0 9-17/3 2 9 *", "1997-09-02", []string{"1997-09-02T09:00", "1997-09-02T12:00", "1997-09-02T15:00"}},
		{"*/15 9-10 2 9 *", "1997-09-02", []string{"1997-09-02T09:00", "1997-09-02T09:15", "1997-09-02T09:30", "1997-09-02T09:45",
			"1997-09-02T10:00", "1997-09-02T10:15"}},
		{"0 9 * * 0", "2026-03-02", []string{"2026-03-08T09:00", "2026-03-15T09:00"}},
	} {
		t.Run(row.expr, func(t *testing.T) {
			c := mustCron(t, row.expr)
			var got []string
			at := date(t, row.from).At(0) - 1
			for range row.want {
				var ok bool
				at, ok = c.Next(at)
				require.True(t, ok)
				got = append(got, at.String())
			}
			assert.Equal(t, row.want, got)
		})
	}
}

func TestCronRefusesWhatCannotPlanFloods(t *testing.T) {
	for expr, remedy := range map[string]string{
		"TZ=Europe/Dublin 0 9 * * *": "leave the zone out",
		"CRON_TZ=UTC 0 9 * * *":      "leave the zone out",
		"TZ=":                        "leave the zone out",
		"@every 3h":                  "hour step",
		"@reboot":                    "write minute, hour",
		"":                           "write minute, hour",
		"0 9 * *":                    "write minute, hour",
		"0 0 9 * * *":                "write minute, hour",
		"60 9 * * *":                 "write minute, hour",
		"0 9 * * 7":                  "Sunday is 0",
		"0 9 0 * *":                  "write minute, hour",
		"*/0 9 * * *":                "write minute, hour",
		"17-8 9 * * *":               "write minute, hour",
		"0 nine * * *":               "write minute, hour",
		"0 9 30 2 *":                 "change the day of month or the month",
		"0 9 31 4,6,9,11 *":          "change the day of month or the month",
	} {
		_, err := ParseCron(expr)
		assert.ErrorContains(t, err, "read cron expression "+strconv.Quote(expr), expr)
		assert.ErrorContains(t, err, remedy, expr)
	}
}

func TestCronTextNeverPanicsAndOnlyGoesForward(t *testing.T) {
	word := rapid.StringOfN(rapid.RuneFrom([]rune("0123456789*/-,@?TZ=MONJAevryh ")), 0, 20, -1)
	field := rapid.SampledFrom([]string{"*", "*/2", "0", "5", "7", "1-5", "3-1", "1,2", "*/0", "9/3", "MON", "?", "1-5/2", "/", "-", ","})
	fields := rapid.Map(rapid.SliceOfN(field, 5, 5), func(f []string) string { return strings.Join(f, " ") })
	rapid.Check(t, func(t *rapid.T) {
		expr := rapid.OneOf(word, fields).Draw(t, "expr")
		c, err := ParseCron(expr)
		if err != nil {
			return
		}
		assert.Equal(t, strings.TrimSpace(expr), c.String())
		assert.NotEmpty(t, Describe(Stage{Cron: c}))
		from := CivilOf(2026, 3, 2, 9, 0, 0)
		next, ok := c.Next(from)
		require.True(t, ok)
		assert.Greater(t, next, from)
		assert.Zero(t, next.TimeOfDay()%60)
	})
}
