package score

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// WriteText writes the report for people.
func (r *Report) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%d benches, %d days on each, seed %d, nature %s\n", r.Benches, r.Days, r.Seed, r.Nature)
	if r.NotTimed > 0 {
		fmt.Fprintf(&b, "%d of them commissioning would refuse, as nature made them: nothing is stated there.\n", r.NotTimed)
	}
	b.WriteString("\nBias, errors and scores are shares of what was true.\n\n")
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "figure\tn\tbias\tmedian\t95 %\tin span\tscore\tby ±25 %\tspan\t\n")
	for i := range r.Figures {
		fmt.Fprintf(t, "%s\t\n", strings.Join(r.Figures[i].cells(), "\t"))
	}
	_ = t.Flush() // to a strings.Builder, which takes all
	_, err := io.WriteString(w, b.String())
	return err
}

// cells are the row of a figure.
func (f *Figure) cells() []string {
	name, span := fmt.Sprintf("%s, %s", f.Name, f.Unit), "±25 %"
	if f.Spanned {
		span = "stated"
	}
	if f.N == 0 {
		return []string{name, "0", "-", "-", "-", "-", "-", "-", span}
	}
	percent := func(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }
	return []string{
		name, fmt.Sprint(f.N), fmt.Sprintf("%+.1f %%", 100*f.Bias), percent(f.MedianError), percent(f.P95Error),
		percent(f.Coverage), fmt.Sprintf("%.2f", f.Score), fmt.Sprintf("%.2f", f.ByQuarter), span,
	}
}

// WriteTable writes the figures as a table of Markdown.
func (r *Report) WriteTable(w io.Writer) error {
	var b strings.Builder
	b.WriteString("| figure | n | bias | median error | 95 % error | in span | interval score | by ±25 % | span |\n|---|---|---|---|---|---|---|---|---|\n")
	for i := range r.Figures {
		fmt.Fprintf(&b, "| %s |\n", strings.Join(r.Figures[i].cells(), " | "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
