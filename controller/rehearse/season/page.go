package season

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/schedule"
)

//go:embed page.html
var pageHTML string

var page = template.Must(template.New("season").Parse(pageHTML))

// Write writes the page of a rehearsal of a site.
func Write(w io.Writer, site *config.Site, report *rehearse.Report, r *Recorder) error {
	first, err := schedule.ParseDate(report.From)
	if err != nil {
		return fmt.Errorf("draw the season: %w", err)
	}
	s := &drawing{
		site: site, report: report, recorder: r,
		from: first.At(0).In(site.Zone).In(site.Zone), to: first.AddDays(report.Days).At(0).In(site.Zone).In(site.Zone),
	}
	return page.Execute(w, map[string]any{
		"Site": site.Name, "Titles": site.Titles, "Report": report, "Pictures": s.pictures(), "Outcomes": counts(report), "Last": first.AddDays(report.Days - 1).String(),
	})
}

// counted is an outcome and how often it came.
type counted struct {
	Outcome controller.Outcome
	Floods  int
}

func counts(r *rehearse.Report) (all []counted) {
	for _, o := range controller.Outcomes {
		if r.Floods[o] > 0 {
			all = append(all, counted{o, r.Floods[o]})
		}
	}
	return all
}
