package cli

import (
	"benchtide/schedule"
)

// Date is a flag with a day of the calendar.
type Date struct {
	Day   schedule.Date
	Given bool
}

// UnmarshalText reads a day such as 2026-03-02; an error says how to write one.
func (d *Date) UnmarshalText(text []byte) (err error) {
	d.Day, err = schedule.ParseDate(string(text))
	d.Given = true
	return err
}

// Or is the day given, or the default.
func (d Date) Or(otherwise schedule.Date) schedule.Date {
	if d.Given {
		return d.Day
	}
	return otherwise
}
