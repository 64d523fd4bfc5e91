package offline

import (
	_ "embed"
	"html/template"
	"io"

	"benchtide/controller/config"
	"benchtide/controller/grow/outlook"
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

// timerBenchOf is a bench's timer in print.
func timerBenchOf(site *config.Site, calendar *schedule.Calendar, i int, from schedule.Date) timerBench {
	b, sheet, timer := site.Benches[i], site.Sheet(i), outlook.TimerOf(site, calendar, i, from)
	r := site.Reservoirs[b.Reservoir]
	t := timerBench{
		Name: site.Titles.Bench(b.Name), Pump: site.Outputs[b.Pump].Name, Reservoir: site.Titles.Reservoir(r.Name), Guarded: b.High != nil, Shortened: timer.Shortened,
		Fill: quantity.Duration(timer.Fill), Run: quantity.Duration(timer.Run), Bare: quantity.Duration(timer.Bare), Over: quantity.Duration(timer.Most),
		Takes: site.Units.Volume(sheet.VFlood), Full: site.Units.Volume(r.Usable), Keep: site.Units.Volume(r.Keep),
	}
	for _, at := range timer.Times {
		t.Times = append(t.Times, at.TimeOfDay().String())
	}
	return t
}
