package web

import (
	"cmp"
	"net/http"
	"slices"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/schedule"
)

// Bounds of a series: a chart has no more room, and a phone no more patience.
const (
	mostBars   = 200
	mostPoints = 1000 // and one more a bench
	mostMarks  = 300
)

// Series is what a chart over days draws. However long the time, it stays
// within its bounds: then a bar sums several days up and a point is the middle
// of several floods.
type Series struct {
	EveryDays int        `json:"every_days"` // days in a bar
	Days      []live.Day `json:"days"`       // by the first day of the bar
	Floods    []Point    `json:"floods"`
	Marks     []Mark     `json:"marks"` // the newest
}

// Point is one flood of a chart, or the middle of several.
type Point struct {
	Bench   string   `json:"bench"`
	At      string   `json:"at"`
	Outcome string   `json:"outcome"` // empty of several, and while the flood is under way
	FillS   *float64 `json:"fill_s"`
	FallS   *float64 `json:"fall_s"`
	Litres  float64  `json:"litres"`
	Of      int      `json:"of"` // how many floods
}

// Mark is what a person did that the courses of a chart may show.
type Mark struct {
	At    string   `json:"at"`
	Kind  string   `json:"kind"`
	Place string   `json:"place"` // a bench, a reservoir or a batch
	Value *float64 `json:"value"`
	Text  string   `json:"text"`
}

// transplanted is the mark of a batch that came onto its bench, as the diary
// calls it.
const transplanted, sown = "transplanted", "sown"

func (a *API) series(w http.ResponseWriter, r *http.Request) error {
	q, err := a.query(r, usualSeries)
	if err != nil {
		return err
	}
	days, err := a.Record.Days(r.Context(), q)
	if err != nil {
		return err
	}
	rows, err := a.Record.Floods(r.Context(), q)
	if err != nil {
		return err
	}
	marks, err := a.marks(r, q)
	if err != nil {
		return err
	}
	s := Series{Marks: marks}
	s.EveryDays, s.Days = bars(days)
	s.Floods = points(rows)
	a.answer(w, s)
	return nil
}

// bars sums days up so that they fit.
func bars(days []live.Day) (every int, some []live.Day) {
	if len(days) == 0 {
		return 1, []live.Day{}
	}
	first := dateOf(days[0].Date)
	span := int(dateOf(days[len(days)-1].Date)-first) + 1
	every = (span + mostBars - 1) / mostBars
	if every == 1 {
		return every, days
	}
	for _, d := range days {
		date := first.AddDays(int(dateOf(d.Date)-first) / every * every).String()
		if n := len(some); n == 0 || some[n-1].Date != date {
			some = append(some, live.Day{Date: date, Floods: map[controller.Outcome]int{}, RunS: map[string]float64{}})
		}
		add(&some[len(some)-1], d)
	}
	return every, some
}

// dateOf reads a date of the record; one that is none is the zero date.
func dateOf(text string) schedule.Date {
	d, _ := schedule.ParseDate(text)
	return d
}

func add(d *live.Day, o live.Day) {
	for outcome, n := range o.Floods {
		d.Floods[outcome] += n
	}
	for output, s := range o.RunS {
		d.RunS[output] = quantity.Rounded(d.RunS[output]+s, 0.001)
	}
	d.Litres = quantity.Rounded(d.Litres+o.Litres, 0.1)
}

// points are the floods that ran, in as many as fit: floods of a bench that
// follow each other share one.
func points(rows []controller.Row) []Point {
	byBench := map[string][]Point{}
	var benches []string
	n := 0
	for _, f := range rows {
		if f.Started == nil {
			continue
		}
		if byBench[f.Bench] == nil {
			benches = append(benches, f.Bench)
		}
		byBench[f.Bench] = append(byBench[f.Bench], Point{f.Bench, *f.Started, string(f.Outcome), f.FillS, f.FallS, f.Litres, 1})
		n++
	}
	share := max(1, (n+mostPoints-1)/mostPoints)
	all := []Point{}
	for _, b := range benches {
		for some := range slices.Chunk(byBench[b], share) {
			all = append(all, middle(some))
		}
	}
	slices.SortStableFunc(all, func(a, b Point) int { return cmp.Compare(a.At, b.At) })
	return all
}

// middle is one point for several, at the time of the one in the middle.
func middle(some []Point) Point {
	if len(some) == 1 {
		return some[0]
	}
	m := some[len(some)/2]
	m.Outcome, m.Of, m.Litres = "", len(some), 0
	var fills, falls []float64
	for _, p := range some {
		m.Litres += p.Litres / float64(len(some))
		if p.FillS != nil {
			fills = append(fills, *p.FillS)
		}
		if p.FallS != nil {
			falls = append(falls, *p.FallS)
		}
	}
	m.Litres, m.FillS, m.FallS = quantity.Rounded(m.Litres, 0.1), median(fills), median(falls)
	return m
}

func median(v []float64) *float64 {
	if len(v) == 0 {
		return nil
	}
	slices.Sort(v)
	return &v[len(v)/2]
}

// readings are the kinds of diary entries that change nothing on a bench.
var readings = []string{"ec", "ph", "temperature", "moisture"}

// marks are what the diary knows and the batches that came, oldest first.
func (a *API) marks(r *http.Request, q live.Query) ([]Mark, error) {
	diary, err := a.Record.Diary(r.Context(), live.Query{Since: q.Since})
	if err != nil {
		return nil, err
	}
	all := []Mark{}
	for _, e := range diary {
		if !slices.Contains(readings, e.Kind) && a.concerns(e.Place, q.Bench) {
			all = append(all, Mark{e.At, e.Kind, e.Place, e.Value, e.Text})
		}
	}
	for _, b := range a.Facts.Batches {
		at := dateOf(b.Transplanted).At(0).In(a.Zone)
		if !at.Before(q.Since) && (q.Bench == "" || q.Bench == b.Bench) {
			kind := transplanted
			if b.Sown == b.Transplanted {
				kind = sown
			}
			all = append(all, Mark{controller.Stamp(at, a.Zone), kind, b.Name, nil, b.Plan})
		}
	}
	slices.SortStableFunc(all, func(a, b Mark) int { return controller.Instant(a.At).Compare(controller.Instant(b.At)) })
	return all[max(0, len(all)-mostMarks):], nil
}

// concerns reports whether what was done at a place concerns a bench: what was
// done to its reservoir does.
func (a *API) concerns(place, bench string) bool {
	if bench == "" || place == "" || place == bench {
		return true
	}
	return slices.ContainsFunc(a.Facts.Benches, func(b live.BenchFacts) bool { return b.Name == bench && b.Reservoir == place })
}
