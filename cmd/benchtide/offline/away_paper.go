package offline

import (
	_ "embed"
	"html/template"
	"io"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/schedule"
)

//go:embed away_paper.html
var timerHTML string

var timerPaper = template.Must(template.New("timer").Parse(timerHTML))

// timerBench is what a person needs to run one bench by a plug-in timer.
type timerBench struct {
	Name, Pump, Reservoir string
	Fill, Run, Bare, Over string
	Times                 []string
	Takes, Full, Keep     string
	Shortened, Guarded    bool
}

// writeTimerPaper writes the page that runs each bench without a controller.
func writeTimerPaper(w io.Writer, site *config.Site, from schedule.Date) error {
	calendar, err := site.Calendar()
	if err != nil {
		return err
	}
	page := struct {
		Site, From string
		Benches    []timerBench
	}{site.Name, from.String(), nil}
	for i := range site.Benches {
		page.Benches = append(page.Benches, timerBenchOf(site, calendar, i, from))
	}
	return timerPaper.Execute(w, page)
}

// timerBenchOf runs the pump for the fill and the hold of the day, in whole
// minutes. Without a controller nothing but the standpipe keeps the water from
// the rim, so that the run ends before it could be there.
func timerBenchOf(site *config.Site, calendar *schedule.Calendar, i int, from schedule.Date) timerBench {
	b, sheet := site.Benches[i], site.Sheet(i)
	r := site.Reservoirs[b.Reservoir]
	governs, _ := calendar.Governs(i, from)
	run, most := sheet.Fill+governs.Hold, sheet.Fill+sheet.Over
	t := timerBench{
		Name: b.Name, Pump: site.Outputs[b.Pump].Name, Reservoir: r.Name, Guarded: b.High != nil,
		Fill: quantity.Duration(sheet.Fill), Bare: quantity.Duration(sheet.Drain), Over: quantity.Duration(most),
		Takes: quantity.In(sheet.VFlood, quantity.Litre), Full: quantity.In(r.Usable, quantity.Litre), Keep: quantity.In(r.Keep, quantity.Litre),
	}
	if run >= most {
		run, t.Shortened = most-time.Minute, true
	}
	t.Run = quantity.Duration(max(time.Minute, run.Truncate(time.Minute)))
	for _, f := range calendar.Between(from.At(0), from.AddDays(1).At(0)) {
		if f.Slot.Bench == i {
			t.Times = append(t.Times, f.Slot.Local.TimeOfDay().String())
		}
	}
	return t
}
