package main

import "benchtide/schedule"

// date is a flag with a day of the calendar.
type date struct {
	day   schedule.Date
	given bool
}

func (d *date) UnmarshalText(text []byte) (err error) {
	d.day, err = schedule.ParseDate(string(text))
	d.given = true
	return err
}

// or is the day given, or the default.
func (d date) or(otherwise schedule.Date) schedule.Date {
	if d.given {
		return d.day
	}
	return otherwise
}
