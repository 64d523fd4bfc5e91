package client

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// Outlook tells what the plants will need.
type Outlook struct {
	ask.Question
	Days int `default:"7" placeholder:"N" help:"How many days ahead; ${default} unless given."`
}

// Help is what its --help says beside the flags, with an example.
func (Outlook) Help() string {
	return `Of a running site, reckoned with what the diary knows: how its solution stands, too,
which stages would fit, and what only you can tell. It changes nothing.

Example:

    benchtide outlook --days 14`
}

// Run prints it.
func (c Outlook) Run(ctx context.Context, s *cli.Session) error {
	return ask.Show(ctx, s, c.Question, "outlook", ask.Parameters("days", strconv.Itoa(c.Days)), writeOutlook)
}

func writeOutlook(w io.Writer, o *live.Outlook) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s and %d days\n", o.From, o.Days)
	for i := range o.Plants {
		writePlants(&b, &o.Plants[i], o)
	}
	for i := range o.Supplies {
		writeSupply(&b, &o.Supplies[i], o)
	}
	for _, p := range o.Proposals {
		fmt.Fprintf(&b, "proposed: %s\n", p.Words)
	}
	for _, q := range o.Questions {
		fmt.Fprintf(&b, "asked: %s: %s\n", o.Titles.Bench(q.Bench), q.Words)
	}
	for _, a := range o.Assumed {
		fmt.Fprintf(&b, "assumed: %s\n", a)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func writePlants(w io.Writer, p *live.Plants, o *live.Outlook) {
	fmt.Fprintf(w, "%s on %s, day %d: plants suffer below %.0f %% of what a pot holds\n", texts.Listed(p.Batch, o.Titles.Batches), texts.Listed(p.Bench, o.Titles.Benches), p.AgeDays, 100*p.Limit)
	for _, c := range p.Courses {
		fmt.Fprintf(w, "  %-8s down to %.0f %%, %s a day at the end\n", c.Weather, 100*c.Lowest, o.Units.Reckoned(quantity.Litres(c.DailyL)))
	}
	var ages []string
	for _, c := range p.Ages {
		ages = append(ages, fmt.Sprintf("%d since %s", c.Pots, c.Since))
	}
	if len(ages) > 0 {
		fmt.Fprintf(w, "  %d pots stand: %s; %d lost, %d moved out\n", p.Pots, strings.Join(ages, ", "), p.Lost, p.MovedOut)
	}
	for _, a := range p.Advice {
		fmt.Fprintf(w, "  %s\n", a)
	}
}

func writeSupply(w io.Writer, s *live.Supply, o *live.Outlook) {
	u, least := o.Units, ""
	if s.AtLeast {
		least = "at least "
	}
	fmt.Fprintf(w, "%s lasts %s%s, on hottest days %s, filled to the mark %s\n", texts.Listed(s.Reservoir, o.Titles.Reservoirs), least, inDays(s.Days), inDays(s.DaysHottest), inDays(s.FullDays))
	if s.AtLeast {
		fmt.Fprintln(w, "  its low switch tells no more: top it up to the mark and write that down")
	}
	use := func(l float64) string {
		return u.Beside(quantity.Litres(l), quantity.Litres(max(s.HottestL, s.SpanL[1])))
	}
	fmt.Fprintf(w, "  plants use %s a day, %s on hottest days: %s\n", use(s.DailyL), use(s.HottestL), s.Words)
	fmt.Fprintf(w, "  9 times in 10 it is %s to %s a day on the mean of these days\n", use(s.SpanL[0]), use(s.SpanL[1]))
	k := s.Solution
	if k == nil || !k.Known {
		fmt.Fprintln(w, "  no change of the solution is written down")
		return
	}
	fmt.Fprintf(w, "  solution: %.0f days old, %.0f %% of it was added since", k.Days, 100*k.Turnover)
	if k.EC != nil {
		fmt.Fprintf(w, ", EC %.2g mS/cm, %+.2g a day", *k.EC, k.Drift)
	}
	fmt.Fprintln(w)
	for _, r := range k.Reasons {
		fmt.Fprintf(w, "  ! change it: %s\n", r)
	}
}

func inDays(n *float64) string {
	if n == nil {
		return "as long as you like"
	}
	return fmt.Sprintf("%.0f days", *n)
}
