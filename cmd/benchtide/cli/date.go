package cli

import (
	"benchtide/schedule"
)

// date is a flag with a day of the calendar.
type Date struct {
	Day   schedule.Date
	Given bool
}

func (d *Date) UnmarshalText(text []byte) (err error) {
	d.Day, err = schedule.ParseDate(string(text))
	d.Given = true
	return err
}

// or is the day given, or the default.
func (d Date) Or(otherwise schedule.Date) schedule.Date {
	if d.Given {
		return d.Day
	}
	return otherwise
}
