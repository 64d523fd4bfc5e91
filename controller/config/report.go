package config

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/safety"
	"benchtide/schedule"
)

// Report is what a check of a file has to say: what is wrong with it and, when
// nothing is, the bench sheets.
type Report struct {
	name     string
	site     *Site // nil when there are errors
	problems Problems
}

// NewReport returns the report on what Parse made of the file called name.
func NewReport(name string, site *Site, problems Problems) Report {
	return Report{name, site, problems}
}

// OK reports whether the file is fit for use.
func (r Report) OK() bool { return r.site != nil }

type problemJSON struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

type benchJSON struct {
	Title        string                `json:"title,omitempty"`
	VFlood       float64               `json:"v_flood_l"`
	Fill         float64               `json:"t_fill_s"`
	Fall         float64               `json:"t_fall_s"`
	Drain        float64               `json:"t_drain_s"`
	Over         float64               `json:"t_over_s"`
	Flow         float64               `json:"flow_l_per_h"`
	EndFlow      float64               `json:"end_flow_l_per_h"`
	Drawdown     float64               `json:"drawdown_mm"`
	SurfaceKnown bool                  `json:"reservoir_inside_known"`
	OverflowHead float64               `json:"overflow_head_mm"`
	CanOverfill  bool                  `json:"can_overfill"`
	SafeMark     float64               `json:"safe_fill_l"`
	BareFlood    float64               `json:"bare_flood_l"`
	Margin       float64               `json:"rim_margin_mm"`
	Left         float64               `json:"reservoir_left_l"`
	TopUp        float64               `json:"top_up_mark_l"`
	PointFlow    float64               `json:"operating_flow_l_per_h"`
	PointHead    float64               `json:"operating_head_m"`
	Power        float64               `json:"pump_power_w"`
	Energy       float64               `json:"energy_wh_per_day"`
	Load         float64               `json:"load_kg_per_m2"`
	PotsLoad     float64               `json:"pots_kg_per_m2"`
	Spans        map[string][2]float64 `json:"spans"`
	Limits       limitsJSON            `json:"limits"`
	Weighing     weighJSON             `json:"weighing"`
	Reasons      []string              `json:"reasons"`
}

// weighJSON is whether a bench weighs its reservoir, and where a switch would be
// passed by each of its fills; null where one is, and where none could.
type weighJSON struct {
	Weighs bool     `json:"weighs"`
	At     *float64 `json:"would_at_l"`
	Words  string   `json:"words"`
}

type limitsJSON struct {
	MaxRun     float64    `json:"max_run_s"`
	MinRest    float64    `json:"min_rest_s"`
	FillWindow [2]float64 `json:"fill_window_s"`
	FallWithin float64    `json:"fall_within_s"`
	DailyRun   float64    `json:"daily_run_s"`
}

// MarshalJSON gives errors, warnings, notes on newer ways and the sheets by bench. Quantities are in
// the unit that the key names.
func (r Report) MarshalJSON() ([]byte, error) {
	report := struct {
		File     string               `json:"file"`
		Errors   []problemJSON        `json:"errors"`
		Warnings []problemJSON        `json:"warnings"`
		Notes    []problemJSON        `json:"notes"`
		Benches  map[string]benchJSON `json:"benches"`
		Wiring   string               `json:"wiring,omitempty"`
	}{r.name, problemsJSON(r.problems.Errors()), problemsJSON(r.problems.Warnings()), []problemJSON{}, map[string]benchJSON{}, ""}
	if r.site != nil {
		report.Wiring = r.site.Fingerprint()
		report.Notes = problemsJSON(r.site.newer())
		for i, b := range r.site.Benches {
			report.Benches[b.Name] = r.site.benchJSON(i)
		}
	}
	return json.Marshal(report)
}

func (s *Site) weighJSON(i int) weighJSON {
	w := s.Weighing(i)
	j := weighJSON{Weighs: w.Weighs, Words: w.Words}
	if w.At != nil {
		at := float64(*w.At)
		j.At = &at
	}
	return j
}

func problemsJSON(ps Problems) []problemJSON {
	all := []problemJSON{}
	for _, p := range ps {
		all = append(all, problemJSON{p.Line, p.Column, p.Text})
	}
	return all
}

func (s *Site) benchJSON(i int) benchJSON {
	sh, l := s.sheets[i], s.Held(i)
	b := benchJSON{
		Title:  s.Titles.Benches[s.Benches[i].Name],
		VFlood: tenths(float64(sh.VFlood)), Fill: tenths(sh.Fill.Seconds()), Fall: tenths(sh.Fall.Seconds()),
		Drain: tenths(sh.Drain.Seconds()), Over: tenths(sh.Over.Seconds()), Flow: tenths(float64(sh.Flow)),
		EndFlow: tenths(float64(sh.EndFlow)), Drawdown: tenths(float64(sh.Drawdown) * 1000), SurfaceKnown: sh.SurfaceKnown,
		OverflowHead: tenths(float64(sh.OverflowHead) * 1000), CanOverfill: sh.CanOverfill,
		SafeMark: tenths(float64(sh.ToRim)), Load: tenths(sh.LoadPerSquareMetre),
		BareFlood: tenths(float64(sh.Bare)), Margin: tenths(float64(sh.Margin) * 1000), Left: tenths(float64(sh.Left)),
		TopUp:     tenths(float64(s.Reservoirs[s.Benches[i].Reservoir].Usable)),
		PointFlow: tenths(float64(sh.Point.Flow)), PointHead: math.Round(float64(sh.Point.Head)*1000) / 1000,
		Power: tenths(sh.Point.Power), Energy: tenths(s.energy(i)),
		Weighing: s.weighJSON(i), Spans: map[string][2]float64{}, PotsLoad: tenths(sh.PotsPerSquareMetre),
		Limits: limitsJSON{
			MaxRun: tenths(l.MaxRun.Seconds()), MinRest: tenths(l.MinRest.Seconds()),
			FillWindow: [2]float64{tenths(l.FillFrom.Seconds()), tenths(l.FillBy.Seconds())},
			FallWithin: tenths(l.FallBy.Seconds()), DailyRun: tenths(l.Daily.Seconds()),
		},
	}
	for key, span := range sh.Spans {
		b.Spans[key] = [2]float64{tenths(span[0]), tenths(span[1])}
	}
	for _, reason := range sh.Reasons {
		b.Reasons = append(b.Reasons, reason.Of+": "+reason.Because)
	}
	return b
}

func tenths(v float64) float64 { return math.Round(v*10) / 10 }

// Held are the limits that the guard holds a bench to, by the rules of its
// interlocks.
type Held struct {
	MaxRun           time.Duration // of one flood
	MinRest          time.Duration
	FillFrom, FillBy time.Duration // the window for FULL, from the pump's start
	FallBy           time.Duration // for FULL to clear, from its stop
	DrainBy          time.Duration // for EMPTY to clear, from its stop; 0 without EMPTY
	Daily            time.Duration // pump time in 24 h
}

// Held returns the limits of bench i.
func (s *Site) Held(i int) Held {
	l := s.benchLimits(i)
	h := Held{MaxRun: l.MaxRun(l.MaxHold), MinRest: l.Drain + safety.RestMargin, FallBy: l.FallLimit()}
	h.FillFrom, h.FillBy = l.FillWindow()
	if l.Empty {
		h.DrainBy = l.Drain * 3 / 2
	}
	h.Daily = max(l.DailyRun, 4*h.MaxRun)
	if l.Full && !l.High {
		h.MaxRun = min(h.MaxRun, h.FillBy+l.Over)
	}
	return h
}

// WriteText writes the report for a person.
func (r Report) WriteText(w io.Writer) error {
	var b strings.Builder
	for _, p := range r.problems {
		fmt.Fprintln(&b, p)
	}
	if r.site == nil {
		fmt.Fprintf(&b, "%s: %s; nothing can run until they are put right\n", r.name, counted(len(r.problems.Errors()), "error"))
	} else {
		r.site.writeText(&b, r.name, len(r.problems))
		r.site.writeNewer(&b)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (s *Site) writeText(b *strings.Builder, name string, warnings int) {
	fmt.Fprintf(b, "%s: %s, %s, %s\n", name, s.Name, counted(len(s.Benches), "bench"), counted(warnings, "warning"))
	for i := range s.Benches {
		s.writeSheet(b, i)
	}
	for _, p := range s.Plans {
		fmt.Fprintf(b, "\nplan %s\n", texts.Listed(p.Name, s.Titles.Plans))
		t := texts.NewTable(b)
		for _, st := range p.Stages {
			fmt.Fprintf(t, "  from day %d\t%s\thold %s\tstrength %s\tcan wait %s\n", st.FromDay, schedule.Describe(st),
				quantity.Duration(st.Hold), quantity.In(quantity.Fraction(st.Strength), quantity.Percent), quantity.Duration(st.CanWait))
		}
		_ = t.Flush() // into memory
	}
}

func (s *Site) writeNewer(b *strings.Builder) {
	notes := s.newer()
	if len(notes) > 0 {
		b.WriteString("\nThe file works as it is. Newer keys would serve it:\n")
	}
	for _, p := range notes {
		fmt.Fprintf(b, "  %s\n", p)
	}
}

// listed is how a report calls bench i.
func (s *Site) listed(i int) string { return texts.Listed(s.Benches[i].Name, s.Titles.Benches) }

func (s *Site) writeSheet(b *strings.Builder, i int) {
	fmt.Fprintf(b, "\nbench %s on %s\n", s.listed(i), texts.Listed(s.Reservoirs[s.Benches[i].Reservoir].Name, s.Titles.Reservoirs))
	t := texts.NewTable(b)
	for _, f := range append(s.figures(i), s.limitFigures(i)...) {
		fmt.Fprintf(t, "  %s\t%s\t%s\n", f.Of, f.Value, f.Because)
	}
	_ = t.Flush() // into memory
}

func counted(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "h"):
		what += "e"
	}
	return fmt.Sprintf("%d %ss", n, what)
}
