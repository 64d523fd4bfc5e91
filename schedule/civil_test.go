package schedule

import (
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func zone(t rapid.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func civil(t rapid.TB, s string) Civil {
	t.Helper()
	c, err := ParseCivil(s)
	require.NoError(t, err)
	return c
}

func date(t rapid.TB, s string) Date {
	t.Helper()
	d, err := ParseDate(s)
	require.NoError(t, err)
	return d
}

func TestCivilTimeMapsToTheGapsEndOrTheFirstOfTwo(t *testing.T) {
	// Transitions from the IANA time zone database, release 2025b; the New York
	// rows are those of PEP 495 and RFC 5545 3.3.5, except that within a gap
	// every time maps to its end.
	for _, row := range []struct{ zone, local, utc, why string }{
		{"Europe/Dublin", "2026-03-29 00:59", "2026-03-29T00:59:00Z", "before the gap"},
		{"Europe/Dublin", "2026-03-29 01:00", "2026-03-29T01:00:00Z", "first skipped minute"},
		{"Europe/Dublin", "2026-03-29 01:30", "2026-03-29T01:00:00Z", "in the gap"},
		{"Europe/Dublin", "2026-03-29 02:00", "2026-03-29T01:00:00Z", "the gap's end"},
		{"Europe/Dublin", "2026-03-29 02:01", "2026-03-29T01:01:00Z", "after the gap"},
		{"Europe/Dublin", "2026-10-25 00:59", "2026-10-24T23:59:00Z", "before the overlap"},
		{"Europe/Dublin", "2026-10-25 01:00", "2026-10-25T00:00:00Z", "first of two"},
		{"Europe/Dublin", "2026-10-25 01:59:59", "2026-10-25T00:59:59Z", "last of the first pass"},
		{"Europe/Dublin", "2026-10-25 02:00", "2026-10-25T02:00:00Z", "after the overlap"},

		{"America/New_York", "2024-03-10 02:30", "2024-03-10T07:00:00Z", "in the gap"},
		{"America/New_York", "2024-03-10 03:30", "2024-03-10T07:30:00Z", "after the gap"},
		{"America/New_York", "2024-11-03 01:30", "2024-11-03T05:30:00Z", "first of two"},
		{"America/New_York", "2024-11-03 02:00", "2024-11-03T07:00:00Z", "after the overlap"},

		{"Australia/Lord_Howe", "2024-10-06 02:10", "2024-10-05T15:30:00Z", "in the half-hour gap"},
		{"Australia/Lord_Howe", "2024-10-06 02:30", "2024-10-05T15:30:00Z", "the gap's end"},
		{"Australia/Lord_Howe", "2024-10-06 01:59", "2024-10-05T15:29:00Z", "before the gap"},
		{"Australia/Lord_Howe", "2024-04-07 01:45", "2024-04-06T14:45:00Z", "first of two"},
		{"Australia/Lord_Howe", "2024-04-07 02:00", "2024-04-06T15:30:00Z", "after the half-hour overlap"},

		{"America/Sao_Paulo", "2017-10-14 23:59", "2017-10-15T02:59:00Z", "before the midnight gap"},
		{"America/Sao_Paulo", "2017-10-15 00:00", "2017-10-15T03:00:00Z", "midnight is skipped"},
		{"America/Sao_Paulo", "2017-10-15 00:30", "2017-10-15T03:00:00Z", "in the midnight gap"},
		{"America/Sao_Paulo", "2017-10-15 01:00", "2017-10-15T03:00:00Z", "the gap's end"},
		{"America/Sao_Paulo", "2018-02-17 23:30", "2018-02-18T01:30:00Z", "first of two before midnight"},
		{"America/Sao_Paulo", "2018-02-18 00:00", "2018-02-18T03:00:00Z", "after the overlap"},
		{"America/Sao_Paulo", "2018-11-04 00:15", "2018-11-04T03:00:00Z", "in the midnight gap"},

		{"Pacific/Apia", "2011-12-30 12:00", "2011-12-30T10:00:00Z", "a whole day is skipped"},
		{"Pacific/Apia", "2011-12-31 00:30", "2011-12-30T10:30:00Z", "the day after"},
		{"UTC", "2026-03-29 01:30", "2026-03-29T01:30:00Z", "no transitions at all"},
	} {
		t.Run(row.zone+" "+row.local, func(t *testing.T) {
			got := civil(t, row.local).In(zone(t, row.zone))
			assert.Equal(t, row.utc, got.UTC().Format(time.RFC3339), row.why)
		})
	}
}

// In is the first instant at which the clock on the wall has reached c.
func TestCivilTimeIsDueWhenTheClockFirstReachesIt(t *testing.T) {
	names := []string{"Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "America/Sao_Paulo",
		"Pacific/Apia", "Africa/Casablanca", "Asia/Kathmandu", "Pacific/Kiritimati", "America/St_Johns"}
	rapid.Check(t, func(t *rapid.T) {
		z := zone(t, rapid.SampledFrom(names).Draw(t, "zone"))
		c := Civil(rapid.Int64Range(int64(CivilOf(1975, 1, 1, 0, 0, 0)), int64(CivilOf(2037, 1, 1, 0, 0, 0))).Draw(t, "civil"))
		if rapid.Bool().Draw(t, "near a transition") {
			if _, next := c.In(z).ZoneBounds(); !next.IsZero() {
				c = CivilIn(next, z) + Civil(rapid.IntRange(-7200, 7200).Draw(t, "from it"))
			}
		}
		due := c.In(z)
		require.GreaterOrEqual(t, CivilIn(due, z), c)
		for back := time.Second; back < 26*time.Hour; back += 14 * time.Minute {
			require.Less(t, CivilIn(due.Add(-back), z), c, "the clock had reached %v already %v before %v", c, back, due)
		}
	})
}

func TestCivilTextIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Civil(rapid.Int64Range(int64(CivilOf(1, 1, 1, 0, 0, 0)), int64(CivilOf(9999, 12, 31, 23, 59, 59))).Draw(t, "civil"))
		assert.Equal(t, c, civil(t, c.String()))
		assert.Equal(t, c.Date(), date(t, c.Date().String()))
		tod, err := ParseTimeOfDay(c.TimeOfDay().String())
		require.NoError(t, err)
		assert.Equal(t, c, c.Date().At(tod))
	})
}

func TestCivilPartsAreThoseOfTheCalendar(t *testing.T) {
	c := CivilOf(2028, time.February, 29, 9, 5, 0)
	assert.Equal(t, "2028-02-29T09:05", c.String())
	assert.Equal(t, "2028-02-29T09:05:07", (c + 7).String())
	d := c.Date()
	assert.Equal(t, DateOf(2028, time.February, 29), d)
	assert.Equal(t, []int{2028, 2, 29}, []int{d.Year(), int(d.Month()), d.Day()})
	assert.Equal(t, time.Tuesday, d.Weekday())
	assert.Equal(t, "2028-03-01", d.AddDays(1).String())
	assert.Equal(t, "1969-12-31T23:59:59", Civil(-1).String())
	assert.Equal(t, civil(t, "2028-02-29 09:05"), civil(t, "2028-02-29T09:05:00"))
}

func TestTimesThatAreNoneAreRefusedWithARemedy(t *testing.T) {
	for _, s := range []string{"", "9", "9h", "24:00", "09:60", "-1:00", "09:00:61", "09:00:00.5", "9 am"} {
		_, err := ParseTimeOfDay(s)
		assert.ErrorContains(t, err, `such as "09:00"`, s)
	}
	for _, s := range []string{"", "2026-02-29", "2026-13-01", "26-03-02", "02.03.2026", "2026-3-2"} {
		_, err := ParseDate(s)
		assert.ErrorContains(t, err, "such as 2026-03-02", s)
	}
	for _, s := range []string{"", "2026-03-02", "2026-03-02 25:00", "2026-03-02T09:00Z", "2026-03-02T09:00:00.5", "2026-03-02T09:00+01:00"} {
		_, err := ParseCivil(s)
		assert.ErrorContains(t, err, `such as "2026-03-02 09:00"`, s)
	}
}
