package schedule

import (
	"errors"
	"fmt"
	"strings"

	"github.com/robfig/cron/v3"
)

// Cron is a cron expression of five fields: minute, hour, day of month, month
// and day of week (Sunday is 0). It runs in civil time, without a zone. When
// both day fields are restricted it matches where either does (Debian
// crontab(5)).
type Cron struct {
	text  string
	spec  *cron.SpecSchedule
	times []TimeOfDay // at which it matches on a day that matches, ascending
}

// ParseCron reads a cron expression of five fields, or one of @hourly, @daily,
// @midnight, @weekly, @monthly, @yearly and @annually. It refuses a zone,
// since slots follow the site's, an interval, since that would drift through
// the day, and an expression that matches no day of any year.
func ParseCron(expr string) (*Cron, error) {
	spec, err := parseSpec(strings.TrimSpace(expr))
	if err != nil {
		return nil, fmt.Errorf("read cron expression %q: %w", expr, err)
	}
	c := &Cron{text: strings.TrimSpace(expr), spec: spec}
	// The year 2000 holds every day that any year can.
	first, ok := c.Next(CivilOf(1999, 12, 31, 23, 59, 59))
	if !ok {
		return nil, fmt.Errorf("read cron expression %q: no year has such a day; change the day of month or the month", expr)
	}
	for at := first; ok && at.Date() == first.Date(); at, ok = c.Next(at) {
		c.times = append(c.times, at.TimeOfDay())
	}
	return c, nil
}

func parseSpec(expr string) (*cron.SpecSchedule, error) {
	if strings.HasPrefix(expr, "TZ=") || strings.HasPrefix(expr, "CRON_TZ=") {
		return nil, errors.New("it names a zone; leave the zone out and set the site's timezone instead")
	}
	parsed, err := cron.ParseStandard(expr)
	if err != nil {
		return nil, fmt.Errorf("%w; write minute, hour, day of month, month and day of week (0 to 6, Sunday is 0), such as \"0 8-17/3 * * *\"", err)
	}
	spec, ok := parsed.(*cron.SpecSchedule)
	if !ok {
		return nil, errors.New("an interval drifts through the day; write an hour step such as \"0 8-17/3 * * *\" instead")
	}
	return spec, nil
}

// Next returns the first match strictly later than after; false when there is
// none within five years.
func (c *Cron) Next(after Civil) (Civil, bool) {
	// Matches lie on whole minutes, and the parser's walk there is by seconds.
	lastSecond := after - Civil(after.TimeOfDay()%60) + 59
	t := c.spec.Next(lastSecond.utc())
	return Civil(t.Unix()), !t.IsZero()
}

// on appends the times of day at which it matches on d, ascending. The fields for
// hours and minutes know nothing of the date: every day that matches has the same.
func (c *Cron) on(dst []TimeOfDay, d Date) []TimeOfDay {
	if first, ok := c.Next(d.At(0) - 1); !ok || first.Date() != d {
		return dst
	}
	return append(dst, c.times...)
}

// String returns the expression as it was written.
func (c *Cron) String() string { return c.text }
