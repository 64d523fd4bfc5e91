package config

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/controller/texts"
	"benchtide/schedule"
)

//go:embed paper.html
var paperHTML string

var paper = template.Must(template.New("paper").Parse(paperHTML))

// benchPaper is what the page of one bench shows.
type benchPaper struct {
	Site, Name, Reservoir, File string
	Figures, Limits             []figure
	Drawings                    []drawing
	Warnings                    []string
	Stages                      []stagePaper
}

type stagePaper struct{ Plan, From, Floods, Hold, Strength, CanWait string }

// WriteHTML writes the bench sheets as pages to print, one a bench; a file that
// is not fit for use has none, and gets its errors.
func (r Report) WriteHTML(w io.Writer) error {
	page := struct {
		Title, File string
		Errors      Problems
		Benches     []benchPaper
	}{Title: r.name, File: r.name, Errors: r.problems.Errors()}
	if r.site != nil {
		page.Title = r.site.Name
		for i := range r.site.Benches {
			page.Benches = append(page.Benches, r.benchPaper(i))
		}
	}
	return paper.Execute(w, page)
}

func (r Report) benchPaper(i int) benchPaper {
	s := r.site
	b := benchPaper{
		Site: s.Name, File: r.name, Name: texts.Listed(s.Benches[i].Name, s.Titles.Benches), Reservoir: texts.Listed(s.Reservoirs[s.Benches[i].Reservoir].Name, s.Titles.Reservoirs),
		Figures: s.figures(i), Limits: s.limitFigures(i), Drawings: []drawing{s.elevation(i), s.detail(i)},
	}
	for _, p := range r.problems.Warnings() {
		b.Warnings = append(b.Warnings, fmt.Sprintf("Line %d: %s", p.Line, p.Text))
	}
	for _, p := range s.plansOn(i) {
		for _, st := range s.Plans[p].Stages {
			b.Stages = append(b.Stages, stagePaper{
				s.Titles.Plan(s.Plans[p].Name), fmt.Sprintf("day %d", st.FromDay), schedule.Describe(st), quantity.Duration(st.Hold),
				quantity.In(quantity.Fraction(st.Strength), quantity.Percent), quantity.Duration(st.CanWait),
			})
		}
	}
	return b
}

// potsOn are the first pots of known size on bench i; nil without any.
func (s *Site) potsOn(i int) *sheet.Pots {
	for k := range s.Batches {
		if b := &s.Batches[k]; b.Bench == i && b.Pots.Known() {
			return &b.Pots
		}
	}
	return nil
}

// tallest is the height of those pots.
func (s *Site) tallest(i int) quantity.Metres {
	if p := s.potsOn(i); p != nil {
		return p.Height()
	}
	return 0
}
