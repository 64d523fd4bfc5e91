package campaign

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// WriteText writes the report for people.
func (r *Report) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%d bench-years on %d sites, %d months, seed %d", r.BenchYears, r.Sites, r.Months, r.Seed)
	if r.Nature != "" {
		fmt.Fprintf(&b, ", nature %s", r.Nature)
	}
	b.WriteString("\n\n")
	if r.NotTimed > 0 {
		fmt.Fprintf(&b, "%d months more have a bench that commissioning would refuse, as nature made it. Nobody judged them.\n\n", r.NotTimed)
	}
	r.writeShares(&b)
	r.writeWater(&b)
	r.writeKinds(&b)
	r.writeCounts(&b)
	r.writeFailures(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

// table writes rows of cells parted by tabs.
func table(b *strings.Builder, rows func(row func(format string, args ...any))) {
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
	rows(func(format string, args ...any) { fmt.Fprintf(t, format+"\t\n", args...) })
	_ = t.Flush() // to a strings.Builder, which takes all
}

func (r *Report) writeShares(b *strings.Builder) {
	table(b, func(row func(string, ...any)) {
		row("\tmonths\tspilled\tran dry\tpast bound\tsilent\tbroken\tnot watered")
		for _, s := range []struct {
			name string
			Share
		}{{"no fault", r.NoFault}, {"one fault", r.Alone}, {"two faults", r.Pairs}} {
			row("%s\t%d\t%d\t%d\t%d\t%d\t%d\t%d", s.name, s.Months, s.Spilled, s.RanDry, s.PastBound, s.Silent, s.Broken, s.NotWatered)
		}
	})
}

func (r *Report) writeWater(b *strings.Builder) {
	fmt.Fprintf(b, "\nSpilled with a layer healthy, most in a month: %.2f L; all there was: %.0f L\n", r.HeldSpilledL, r.SpilledL)
	fmt.Fprintf(b, "Longest dry run: %.0f s; with a low switch that works: %.0f s\n", r.LongestDryS, r.LongestGuardedS)
	fmt.Fprintf(b, "Longest wait for water after all was mended: %.1f h\n", r.LongestWaitH)
}

// writeKinds writes a line for each kind of fault, from the months in which it
// was alone.
func (r *Report) writeKinds(b *strings.Builder) {
	b.WriteString("\nFaults; all but months of those in which it was alone\n")
	table(b, func(row func(string, ...any)) {
		row("\tmonths\talone\tharmed\tlatched\tspilled L\tbound L\tdry s\ttold\tmedian\tworst\tstands for")
		for _, what := range slices.Sorted(maps.Keys(r.Kinds)) {
			k := r.Kinds[what]
			row("%s\t%d\t%d\t%d\t%d\t%.1f\t%.1f\t%.0f\t%d\t%s\t%s\t%s", what, k.Months, k.Alone, k.Harmed, k.Latched,
				k.SpilledL, k.BoundL, k.DryS, k.Told, k.after(k.MedianTellS), k.after(k.WorstTellS), k.Rows)
		}
	})
}

// after is a time to a message, to the second; a dash when nobody was told.
func (k *Kind) after(s float64) string {
	if k.Told == 0 {
		return "-"
	}
	return time.Duration(s * float64(time.Second)).Round(time.Second).String()
}

func (r *Report) writeCounts(b *strings.Builder) {
	b.WriteString("\nInterlocks that acted or refused\n")
	table(b, func(row func(string, ...any)) {
		for _, i := range safety.Interlocks {
			row("%s\t%d", i, r.Trips[i])
		}
	})
	b.WriteString("\nFloods\n")
	table(b, func(row func(string, ...any)) {
		for _, o := range controller.Outcomes {
			row("%s\t%d", o, r.Floods[o])
		}
	})
}

func (r *Report) writeFailures(b *strings.Builder) {
	if r.Fine() {
		b.WriteString("\nNothing broke.\n")
		return
	}
	fmt.Fprintf(b, "\nMonths that failed: %d\n", len(r.Failures))
	for _, f := range r.Failures {
		fmt.Fprintf(b, "\nSite %d, month %d\n", f.Site, f.Month)
		for _, c := range f.Charges {
			fmt.Fprintf(b, "  %s: %s\n", c.Kind, c.Text)
		}
		for _, line := range f.FirstOut {
			fmt.Fprintf(b, "    %s\n", line)
		}
		if f.Scenario != "" {
			fmt.Fprintf(b, "\n%s\n%s", f.Scenario, f.Config)
		}
	}
}
