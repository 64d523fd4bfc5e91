package outlook

import (
	"time"

	"benchtide/controller/config"
	"benchtide/schedule"
)

// Timer is how a plug-in timer runs a bench's pump on a day, without a controller.
type Timer struct {
	Fill      time.Duration // until the standpipe runs
	Run       time.Duration // of the pump at each flood, in whole minutes
	Bare      time.Duration // from its end until the table is bare
	Most      time.Duration // from its start until the water could be at the rim
	Shortened bool          // the hold of the day would be longer
	Times     []schedule.Civil
}

// TimerOf runs the pump for the fill and the hold of the day. Without a controller
// nothing but the standpipe keeps the water from the rim, so that the run ends
// before it could be there.
func TimerOf(site *config.Site, calendar *schedule.Calendar, bench int, day schedule.Date) Timer {
	sheet := site.Sheet(bench)
	governs, _ := calendar.Governs(bench, day)
	t := Timer{Fill: sheet.Fill, Run: sheet.Fill + governs.Hold, Bare: sheet.Drain, Most: sheet.Fill + sheet.Over}
	if t.Run >= t.Most {
		t.Run, t.Shortened = t.Most-time.Minute, true
	}
	t.Run = max(time.Minute, t.Run.Truncate(time.Minute))
	for n := 0; n < schedule.MostEvery && len(t.Times) == 0; n++ { // a stage may leave days out
		d := day.AddDays(n)
		for _, f := range calendar.On(bench, d.At(0), d.AddDays(1).At(0)) {
			t.Times = append(t.Times, f.Slot.Local)
		}
	}
	return t
}
