package schedule

import (
	"fmt"
	"strings"
	"time"
)

// listedTimes is the most times of day that a description lists one by one.
const listedTimes = 8

// Describe says in plain words when s floods: "daily at 08:30 and 15:00",
// "every second day at 09:00", "4 floods spread over the light hours".
func Describe(s Stage) string {
	of := ""
	if s.Every > 1 {
		of = " of " + Days(s.Every)
	}
	switch {
	case s.Cron != nil:
		return s.Cron.describe()
	case s.Spread == 1:
		return "1 flood in the middle of the light hours" + of
	case s.Spread > 1:
		return fmt.Sprintf("%d floods spread over the light hours%s", s.Spread, of)
	case s.Every > 1:
		return Days(s.Every) + " " + describeTimes(s.At)
	default:
		return "daily " + describeTimes(s.At)
	}
}

var ordinals = [...]string{2: "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}

// Days says which days come around each so many of them: "every day", "every second
// day".
func Days(every int) string {
	switch {
	case every <= 1:
		return "every day"
	case every < len(ordinals):
		return "every " + ordinals[every] + " day"
	}
	return fmt.Sprintf("one day in %d", every)
}

func (c *Cron) describe() string {
	times := describeTimes(c.timesOfDay())
	switch {
	case c.everyDay():
		return "daily " + times
	case c.everyMonth() && c.everyDayOfMonth():
		return times + " on " + inWords(c.weekdays())
	default:
		return fmt.Sprintf("%s on the days of cron %q", times, c.text)
	}
}

func describeTimes(times []TimeOfDay) string {
	if n := len(times); n > listedTimes {
		return fmt.Sprintf("%d times from %v to %v", n, times[0], times[n-1])
	}
	words := make([]string, len(times))
	for i, t := range times {
		words[i] = t.String()
	}
	return "at " + inWords(words)
}

// inWords joins words as a sentence does: a, b and c.
func inWords(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func (c *Cron) timesOfDay() []TimeOfDay {
	var times []TimeOfDay
	for hour := range 24 {
		for minute := range 60 {
			if has(c.spec.Hour, hour) && has(c.spec.Minute, minute) {
				times = append(times, TimeOfDay(hour*3600+minute*60))
			}
		}
	}
	return times
}

func (c *Cron) weekdays() []string {
	var days []string
	for d := time.Sunday; d <= time.Saturday; d++ {
		if has(c.spec.Dow, int(d)) {
			days = append(days, d.String())
		}
	}
	return days
}

// everyDay reports whether c matches on every day. Of two restricted day
// fields either is enough; a star leaves the matter to the other one.
func (c *Cron) everyDay() bool {
	const star = 1 << 63
	everyWeekday := len(c.weekdays()) == 7
	if (c.spec.Dom|c.spec.Dow)&star == 0 {
		return c.everyMonth() && (c.everyDayOfMonth() || everyWeekday)
	}
	return c.everyMonth() && c.everyDayOfMonth() && everyWeekday
}

func (c *Cron) everyMonth() bool      { return hasAll(c.spec.Month, 1, 12) }
func (c *Cron) everyDayOfMonth() bool { return hasAll(c.spec.Dom, 1, 31) }

func has(field uint64, bit int) bool { return field&(1<<bit) != 0 }

func hasAll(field uint64, from, to int) bool {
	for bit := from; bit <= to; bit++ {
		if !has(field, bit) {
			return false
		}
	}
	return true
}
