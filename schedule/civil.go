package schedule

import (
	"fmt"
	"math"
	"time"
)

const secondsPerDay = 24 * 60 * 60

// Civil is a date and time of day without a zone, as a wall clock shows it:
// seconds since 1970-01-01T00:00:00 of the same calendar, every day of 24 h.
type Civil int64

// Date is a calendar day: days since 1970-01-01.
type Date int32

// TimeOfDay is what a wall clock shows: seconds since midnight, 0 to 86399.
type TimeOfDay int32

// CivilOf returns the civil time of the given date and clock reading. Values
// outside their usual range carry over, as in time.Date.
func CivilOf(year int, month time.Month, day, hour, min, sec int) Civil {
	return Civil(time.Date(year, month, day, hour, min, sec, 0, time.UTC).Unix())
}

// CivilIn returns what a wall clock in zone shows at t, to the second.
func CivilIn(t time.Time, zone *time.Location) Civil {
	_, offset := t.In(zone).Zone()
	return Civil(t.Unix() + int64(offset))
}

// WallClock is the clock on a wall in a zone. It remembers which offset is in
// force and until when, so one goroutine may use it at a time.
type WallClock struct {
	zone        *time.Location
	from, until int64 // seconds of Unix time; the offset holds between them
	offset      int64
}

// NewWallClock returns the clock of a zone.
func NewWallClock(zone *time.Location) *WallClock { return &WallClock{zone: zone} }

// Civil is CivilIn.
func (w *WallClock) Civil(t time.Time) Civil {
	at := t.Unix()
	if at < w.from || at >= w.until {
		w.look(t.In(w.zone))
	}
	return Civil(at + w.offset)
}

// look finds the offset at t and between which changes it lies; the first and
// the last offset of a zone hold for ever.
func (w *WallClock) look(t time.Time) {
	_, offset := t.Zone()
	w.offset, w.from, w.until = int64(offset), math.MinInt64, math.MaxInt64
	from, until := t.ZoneBounds()
	if !from.IsZero() {
		w.from = from.Unix()
	}
	if !until.IsZero() {
		w.until = until.Unix()
	}
}

// ParseCivil reads "2026-03-02T09:00" or "2026-03-02 09:00", with or without seconds.
func ParseCivil(s string) (Civil, error) {
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02 15:04:05"} {
		if t, err := time.Parse(layout, s); err == nil && t.Nanosecond() == 0 {
			return Civil(t.Unix()), nil
		}
	}
	return 0, fmt.Errorf("read local time %q: write year-month-day and 24-hour time, such as \"2026-03-02 09:00\"", s)
}

// Date returns the day c lies on.
func (c Civil) Date() Date {
	days := int64(c) / secondsPerDay
	if int64(c)%secondsPerDay < 0 {
		days--
	}
	return Date(days)
}

// TimeOfDay returns what the clock shows at c.
func (c Civil) TimeOfDay() TimeOfDay { return TimeOfDay(c - c.Date().At(0)) }

// In returns the instant at which a wall clock in zone shows c. A time that the
// zone skips maps to the end of the gap; of a time that it shows twice In
// returns the first.
func (c Civil) In(zone *time.Location) time.Time {
	before := c.minus(offsetAt(c-secondsPerDay, zone), zone)
	if CivilIn(before, zone) == c {
		return before
	}
	after := c.minus(offsetAt(c+secondsPerDay, zone), zone)
	if CivilIn(after, zone) == c {
		return after
	}
	// Counted with the offset before the gap, c lies behind the transition, and
	// the period in force there began with it.
	gapEnd, _ := before.ZoneBounds()
	return gapEnd
}

// minus returns the instant of c in a place whose clock is offset ahead of UTC.
func (c Civil) minus(offset int, zone *time.Location) time.Time {
	return time.Unix(int64(c)-int64(offset), 0).In(zone)
}

// offsetAt returns zone's offset in seconds when UTC shows c.
func offsetAt(c Civil, zone *time.Location) int {
	_, offset := time.Unix(int64(c), 0).In(zone).Zone()
	return offset
}

// String returns c as 2026-03-02T09:00, with seconds only when there are any.
func (c Civil) String() string { return c.Date().String() + "T" + c.TimeOfDay().String() }

func (c Civil) utc() time.Time { return time.Unix(int64(c), 0).UTC() }

// DateOf returns the given day of the calendar.
func DateOf(year int, month time.Month, day int) Date {
	return CivilOf(year, month, day, 0, 0, 0).Date()
}

// ParseDate reads "2026-03-02".
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("read date %q: write a day of the calendar as year-month-day, such as 2026-03-02", s)
	}
	return Civil(t.Unix()).Date(), nil
}

// At returns the civil time at which the clock shows t on d.
func (d Date) At(t TimeOfDay) Civil { return Civil(d)*secondsPerDay + Civil(t) }

// AddDays returns the day n days after d.
func (d Date) AddDays(n int) Date { return d + Date(n) }

// Year returns the year of d.
func (d Date) Year() int { return d.At(0).utc().Year() }

// Month returns the month of d.
func (d Date) Month() time.Month { return d.At(0).utc().Month() }

// Day returns the day of the month of d, from 1.
func (d Date) Day() int { return d.At(0).utc().Day() }

// Weekday returns the day of the week of d.
func (d Date) Weekday() time.Weekday { return d.At(0).utc().Weekday() }

// String returns d as 2026-03-02.
func (d Date) String() string { return d.At(0).utc().Format(time.DateOnly) }

// ParseTimeOfDay reads "09:00" or "09:00:30", from 00:00 to 23:59:59.
func ParseTimeOfDay(s string) (TimeOfDay, error) {
	for _, layout := range []string{"15:04", "15:04:05"} {
		if t, err := time.Parse(layout, s); err == nil && t.Nanosecond() == 0 {
			return TimeOfDay(t.Hour()*3600 + t.Minute()*60 + t.Second()), nil
		}
	}
	return 0, fmt.Errorf("read time of day %q: write hours and minutes from 00:00 to 23:59, such as \"09:00\"", s)
}

// String returns t as 09:00, with seconds only when there are any.
func (t TimeOfDay) String() string {
	if t%60 != 0 {
		return fmt.Sprintf("%02d:%02d:%02d", t/3600, t/60%60, t%60)
	}
	return fmt.Sprintf("%02d:%02d", t/3600, t/60%60)
}
