package offline

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/schedule"
)

// outlookPaper is an outlook in print.
type outlookPaper struct{ *outlook.Outlook }

func (o outlookPaper) writeText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s), %s and %d days\n", o.Site.Name, o.Site.Zone, o.From, o.Days)
	if len(o.Batches) == 0 {
		fmt.Fprintln(&b, "No batch stands on a bench on the first of these days.")
	}
	for i := range o.Batches {
		fmt.Fprintln(&b)
		o.writeBatch(&b, &o.Batches[i])
	}
	fmt.Fprintln(&b)
	for i, s := range o.Stocks {
		fmt.Fprintf(&b, "reservoir %s: plants use %s a day at the end (mild, normal, hottest); full it lasts %s days\n",
			texts.Listed(o.Site.Reservoirs[i].Name, o.Site.Titles.Reservoirs), o.threeVolumes(s.Daily), three(s.Lasts, "%.0f"))
		if outlasts := grow.Outlasts(s.Lasts[grow.Normal]); outlasts != "" {
			fmt.Fprintf(&b, "  %s\n", outlasts)
		}
	}
	o.writeLearned(&b)
	o.writeLight(&b)
	for i := range o.Grow.Batches {
		if text := o.Grow.Shade(i, o.From); text != "" {
			fmt.Fprintf(&b, "light for %s: %s\n", texts.Listed(o.Site.Batches[i].Name, o.Site.Titles.Batches), text)
		}
		for _, text := range o.Grow.Comfort(i, o.From, o.From.AddDays(o.Days-1)) {
			fmt.Fprintf(&b, "warmth for %s: %s\n", texts.Listed(o.Site.Batches[i].Name, o.Site.Titles.Batches), text)
		}
	}
	for i := range o.Conflicts {
		c := &o.Conflicts[i]
		fmt.Fprintf(&b, "%s. Choices: %s.\n", conflictOf(o.Site, c), o.Grow.Choices(*c))
	}
	for _, a := range o.Assumed {
		fmt.Fprintf(&b, "assumed: %s\n", a)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// writeLearned writes what the record tells.
func (o outlookPaper) writeLearned(w io.Writer) {
	if o.Learned == nil {
		return
	}
	for i, r := range o.Site.Reservoirs {
		fmt.Fprintf(w, "reservoir %s: %s\n", texts.Listed(r.Name, o.Site.Titles.Reservoirs), o.Learned.Uses[i].Words)
		fmt.Fprintf(w, "solution of %s: %s\n", texts.Listed(r.Name, o.Site.Titles.Reservoirs), solutionText(&o.Learned.Solutions[i]))
	}
	for i, k := range o.Learned.Stands {
		if k.Counted {
			fmt.Fprintf(w, "%s: %s\n", texts.Listed(o.Site.Batches[i].Name, o.Site.Titles.Batches), countText(&k, o.Site.Zone))
		}
	}
	for _, p := range o.Learned.Proposals {
		fmt.Fprintf(w, "proposed: %s\n", o.Proposal(p))
	}
	for _, q := range o.Learned.Questions {
		fmt.Fprintf(w, "asked: %s: %s\n", texts.Listed(o.Site.Benches[q.Bench].Name, o.Site.Titles.Benches), q.Text)
	}
}

func solutionText(s *grow.Solution) string {
	if s.Since.IsZero() {
		return "no change of it is written down"
	}
	text := fmt.Sprintf("%.0f days old, %.0f %% of it was added since", s.Days, 100*s.Turnover)
	if s.EC > 0 {
		text += fmt.Sprintf(", EC %.2g mS/cm, %+.2g a day", float64(s.EC), s.Drift)
	}
	if len(s.Reasons) > 0 {
		text += "; change it: " + strings.Join(s.Reasons, ", ")
	}
	return text
}

// countText says how many pots of which age stand.
func countText(k *grow.Stand, zone *time.Location) string {
	var parts []string
	for _, c := range k.Cohorts {
		parts = append(parts, fmt.Sprintf("%d since %s", c.Pots, schedule.CivilIn(c.Since, zone).Date()))
	}
	return fmt.Sprintf("%d pots stand: %s; %d lost, %d moved out", k.Left(), strings.Join(parts, ", "), k.Lost, k.MovedOut)
}

func (o outlookPaper) writeBatch(w io.Writer, p *outlook.Batch) {
	b := o.Site.Batches[p.Batch]
	age := int(p.From - b.Transplanted)
	since := ""
	if b.Sown != 0 {
		since = " since it was " + b.Began()
	}
	fmt.Fprintf(w, "%s on %s, day %d to %d%s: a pot holds %s, its plants suffer below %.0f %%\n",
		texts.Listed(b.Name, o.Site.Titles.Batches), texts.Listed(o.Site.Benches[b.Bench].Name, o.Site.Titles.Benches), age, age+p.Days-1, since, o.Site.Units.Pot(quantity.Litres(p.Holds)), 100*p.Limit)
	drawing := newSketch(&p.Forecast)
	fmt.Fprintf(w, "  %-8s %s\n  %-8s %s\n", "", drawing.ruler(), "floods", drawing.floods())
	for _, c := range p.Courses {
		fmt.Fprintf(w, "  %-8s %s  lowest %.0f %%\n", c.Kind, drawing.course(&c), 100*c.Lowest)
	}
	for _, k := range grow.Kinds {
		n := p.Needs[k]
		fmt.Fprintf(w, "  on day %d, %s: %s a day, a pot lasts %s; %s a day needed\n", age+p.Days-1, k,
			o.Site.Units.Reckoned(quantity.Litres(n.Litres)), quantity.Duration(n.Lasts.Round(time.Hour)), needed(n.Floods))
	}
	for _, step := range o.Grow.Steps(p.Batch) {
		if step.To >= p.From {
			fmt.Fprintf(w, "  %s\n", step)
		}
	}
	o.writeStages(w, p)
	fits := true
	for _, a := range p.Advice {
		fits = fits && a.Verdict == grow.Fits
		fmt.Fprintf(w, "  %s\n", a.Words)
	}
	if fits {
		return
	}
	plan := o.Site.Plans[b.Plan]
	fmt.Fprintf(w, "  the plan with all of this, if you want it:\n    %s:\n", plan.Name)
	for _, st := range grow.Follow(plan, p.Advice).Stages {
		fmt.Fprintf(w, "      - %s\n", stageLine(st))
	}
}

// writeStages writes what the batch needs stage by stage.
func (o outlookPaper) writeStages(w io.Writer, p *outlook.Batch) {
	fmt.Fprintln(w, "  at the end of each stage (mild, normal, hottest):")
	t := texts.NewTable(w)
	for _, n := range p.Stages {
		st := o.Site.Plans[o.Site.Batches[p.Batch].Plan].Stages[n.Stage]
		var litres, lasts, waits [len(grow.Kinds)]float64
		var floods []string // 0 where none suffices
		for k, need := range n.Needs {
			litres[k], lasts[k], waits[k] = float64(need.Litres), need.Lasts.Hours(), need.CanWait.Hours()
			floods = append(floods, fmt.Sprint(need.Floods))
		}
		fmt.Fprintf(t, "  from day %d, on day %d\t%s a day\ta pot lasts %s h\tfloods needed %s\tcan wait %s h\n", st.FromDay, n.Age,
			o.threeVolumes(litres), three(lasts, "%.0f"), strings.Join(floods, ", "), three(waits, "%.0f"))
	}
	_ = t.Flush() // into memory
}

func needed(floods int) string {
	switch floods {
	case 0:
		return "no number of floods is enough: more than 24"
	case 1:
		return "1 flood"
	}
	return fmt.Sprintf("%d floods", floods)
}

// stageLine is a stage as the file has it.
func stageLine(s schedule.Stage) string {
	when := fmt.Sprintf("floods: %d", s.Spread)
	if s.Cron != nil {
		when = fmt.Sprintf("cron: %q", s.Cron.String())
	}
	if len(s.At) > 0 {
		var times []string
		for _, t := range s.At {
			times = append(times, fmt.Sprintf("%q", t))
		}
		when = "flood_at: [" + strings.Join(times, ", ") + "]"
	}
	if s.Every > 1 {
		when += fmt.Sprintf(", every: %d d", s.Every)
	}
	return fmt.Sprintf("{from_day: %d, %s, hold: %s, strength: %s, can_wait: %s}", s.FromDay, when, quantity.Duration(s.Hold),
		quantity.In(quantity.Fraction(s.Strength), quantity.Percent), quantity.Duration(s.CanWait))
}

func (o outlookPaper) writeLight(w io.Writer) {
	l := o.Grow.Light(o.From)
	fmt.Fprintf(w, "light on %s: %.1f to %.1f mol/m² by the sun", o.From, l.Dull, l.Bright)
	if l.Lamps > 0 {
		fmt.Fprintf(w, ", %.1f by lamps in %.1f h", l.Lamps, float64(l.Hours))
	}
	wants := fmt.Sprintf("%s would have about %.0f", l.For, l.Least)
	switch {
	case l.Enough():
		fmt.Fprintf(w, "; %s\n", wants)
	case l.Lamps == 0:
		fmt.Fprintf(w, "; %s, so dull days are too dark without lamps\n", wants)
	case l.OutOfReach():
		fmt.Fprintf(w, "; %s, which these lamps cannot give on a dull day\n", wants)
	default:
		fmt.Fprintf(w, "; %s, for which they have to shine %.1f h on a dull day\n", wants, float64(l.Wanted))
	}
}

// threeVolumes prints a volume of water for each kind of day.
func (o outlookPaper) threeVolumes(litres [len(grow.Kinds)]float64) string {
	var all []quantity.Litres
	for _, l := range litres {
		all = append(all, quantity.Litres(l))
	}
	return o.Site.Units.Listed(all...)
}

// three prints a figure for each kind of day.
func three(v [len(grow.Kinds)]float64, format string) string {
	var parts []string
	for _, x := range v {
		if math.IsInf(x, 1) {
			parts = append(parts, "any number of")
			continue
		}
		parts = append(parts, fmt.Sprintf(format, x))
	}
	return strings.Join(parts, ", ")
}
