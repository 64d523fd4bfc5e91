package offline

import (
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/quantity"
	"benchtide/schedule"
)

// The outlook as JSON. Lengths of time are seconds or days as their names say.
type (
	outlookJSON struct {
		From       string          `json:"from"`
		Days       int             `json:"days"`
		Fits       bool            `json:"fits"`
		Batches    []batchJSON     `json:"batches"`
		Reservoirs []reservoirJSON `json:"reservoirs"`
		Light      lightJSON       `json:"light"`
		Conflicts  []choiceJSON    `json:"conflicts"`
		Assumed    []string        `json:"assumed"`
	}
	batchJSON struct {
		Name    string       `json:"name"`
		Title   string       `json:"title,omitempty"`
		Bench   string       `json:"bench"`
		HoldsL  float64      `json:"holds_l"`
		Limit   float64      `json:"limit"`
		Floods  []string     `json:"floods"`
		Courses []courseJSON `json:"courses"`
		Advice  []adviceJSON `json:"advice"`
		Stages  []needJSON   `json:"stages"`
		Steps   []stepJSON   `json:"steps,omitempty"` // from seed to hand-over, where crop and day of sowing are known
	}
	stepJSON struct {
		Step string `json:"step"`
		From string `json:"from"`
		To   string `json:"to"`
		Asks string `json:"asks"`
	}
	// needJSON is what a stage needs at its end; figures are by kind of day.
	needJSON struct {
		FromDay  int                `json:"from_day"`
		OnDay    int                `json:"on_day"`
		LitresPD map[string]float64 `json:"litres_per_day"`
		LastsH   map[string]float64 `json:"lasts_h"`
		Needed   map[string]int     `json:"floods_needed"` // 0 where no number suffices
		CanWaitH map[string]float64 `json:"can_wait_h"`
	}
	courseJSON struct {
		Weather  string      `json:"weather"`
		Lowest   float64     `json:"lowest"`
		BelowAt  string      `json:"below_at,omitempty"`
		LitresPD float64     `json:"litres_per_day"`
		LastsH   float64     `json:"lasts_h"`
		Needed   int         `json:"floods_needed"`
		CanWaitH float64     `json:"can_wait_h"`
		Water    []pointJSON `json:"water"`
	}
	pointJSON struct {
		At    string  `json:"at"`
		Share float64 `json:"share"`
	}
	adviceJSON struct {
		From    string `json:"from"`
		To      string `json:"to"`
		Age     int    `json:"from_day"`
		Verdict string `json:"verdict"`
		Planned int    `json:"floods_planned"`
		Needed  int    `json:"floods_needed"`
		Stage   string `json:"stage"`
		Words   string `json:"words"`
	}
	reservoirJSON struct {
		Name   string              `json:"name"`
		Title  string              `json:"title,omitempty"`
		Litres map[string]float64  `json:"litres_per_day"`
		Days   map[string]*float64 `json:"lasts_days"` // null where nothing is used
	}
	lightJSON struct {
		DullMol   float64  `json:"dull_mol_per_m2"`
		BrightMol float64  `json:"bright_mol_per_m2"`
		LampsMol  float64  `json:"lamps_mol_per_m2"`
		WantedH   *float64 `json:"lamp_hours_wanted"` // null where lamps cannot do it
	}
	choiceJSON struct {
		Kind    string `json:"kind"`
		Detail  string `json:"detail"`
		Choices string `json:"choices"`
	}
)

func (o outlookPaper) object() outlookJSON {
	j := outlookJSON{
		From: o.From.String(), Days: o.Days, Fits: o.Fits(),
		Batches: []batchJSON{}, Reservoirs: []reservoirJSON{}, Conflicts: []choiceJSON{}, Assumed: append([]string{}, o.Assumed...),
	}
	for i := range o.Batches {
		j.Batches = append(j.Batches, o.batchObject(&o.Batches[i]))
	}
	for i, s := range o.Stocks {
		r := reservoirJSON{o.Site.Reservoirs[i].Name, o.Site.Titles.Reservoirs[o.Site.Reservoirs[i].Name], map[string]float64{}, map[string]*float64{}}
		for _, k := range grow.Kinds {
			r.Litres[k.String()], r.Days[k.String()] = quantity.Thousandth(s.Daily[k]), quantity.Finite(s.Lasts[k])
		}
		j.Reservoirs = append(j.Reservoirs, r)
	}
	l := o.Grow.Light(o.From)
	j.Light = lightJSON{DullMol: quantity.Thousandth(l.Dull), BrightMol: quantity.Thousandth(l.Bright), LampsMol: quantity.Thousandth(l.Lamps)}
	if !l.OutOfReach() {
		j.Light.WantedH = quantity.Finite(float64(l.Wanted))
	}
	for _, c := range o.Conflicts {
		j.Conflicts = append(j.Conflicts, choiceJSON{c.Kind.String(), c.Detail, o.Grow.Choices(c)})
	}
	return j
}

func (o outlookPaper) batchObject(p *outlook.Batch) batchJSON {
	b := o.Site.Batches[p.Batch]
	j := batchJSON{
		Name: b.Name, Title: o.Site.Titles.Batches[b.Name], Bench: o.Site.Benches[b.Bench].Name, HoldsL: float64(p.Holds), Limit: quantity.Thousandth(p.Limit),
		Floods: []string{}, Advice: []adviceJSON{},
	}
	for _, f := range p.Floods {
		j.Floods = append(j.Floods, f.Slot.Local.String())
	}
	for k, c := range p.Courses {
		n := p.Needs[k]
		course := courseJSON{
			Weather: c.Kind.String(), Lowest: quantity.Thousandth(c.Lowest), BelowAt: when(c.Below),
			LitresPD: quantity.Thousandth(float64(n.Litres)), LastsH: quantity.Thousandth(n.Lasts.Hours()), Needed: n.Floods, CanWaitH: quantity.Thousandth(n.CanWait.Hours()),
		}
		for _, q := range c.Points {
			course.Water = append(course.Water, pointJSON{q.At.String(), quantity.Thousandth(q.Share)})
		}
		j.Courses = append(j.Courses, course)
	}
	for _, a := range p.Advice {
		j.Advice = append(j.Advice, adviceJSON{
			a.From.String(), a.To.String(), a.Age, a.Verdict.String(), a.Planned, a.Needed, stageLine(a.Stage), a.Words,
		})
	}
	stages := o.Site.Plans[b.Plan].Stages
	for _, n := range p.Stages {
		s := needJSON{stages[n.Stage].FromDay, n.Age, map[string]float64{}, map[string]float64{}, map[string]int{}, map[string]float64{}}
		for k, need := range n.Needs {
			kind := grow.Kind(k).String()
			s.LitresPD[kind], s.LastsH[kind] = quantity.Thousandth(float64(need.Litres)), quantity.Thousandth(need.Lasts.Hours())
			s.Needed[kind], s.CanWaitH[kind] = need.Floods, quantity.Thousandth(need.CanWait.Hours())
		}
		j.Stages = append(j.Stages, s)
	}
	for _, k := range o.Grow.Steps(p.Batch) {
		j.Steps = append(j.Steps, stepJSON{string(k.Kind), k.From.String(), k.To.String(), k.Asks})
	}
	return j
}

func when(at schedule.Civil) string {
	if at == 0 {
		return ""
	}
	return at.String()
}
