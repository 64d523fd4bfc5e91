package offline

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/rehearse"
	"benchtide/controller/texts"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Away checks whether a site can be left alone.
type Away struct {
	cli.SiteFile
	ask.Daemon
	From    cli.Date `placeholder:"DATE" help:"The day of leaving; today unless given."`
	Until   cli.Date `required:"" placeholder:"DATE" help:"The day of return."`
	Confirm []string `placeholder:"KEY" help:"What you have seen to yourself: rcd, messages, heartbeat, heating, vents, water-closed, spare, watched."`
	Paper   string   `placeholder:"FILE" help:"Write a page for whoever runs the bench with a plug-in timer if the controller fails."`
	JSON    bool     `help:"Print one JSON object."`
}

// Help is what its --help says beside the flags, with an example.
func (Away) Help() string {
	return `The check before nobody is there: water for hot days, floods as needed, a
rehearsal of the days away, and what the running daemon has on record. All fine,
or a reason; exit code 1 when anything is left to do.

Examples:

    benchtide away -c bench.yaml --until 2026-04-12
    benchtide away -c bench.yaml --until 2026-04-12 --confirm rcd,messages,spare --paper timer.html`
}

// longestAway is the most days that the check is made for.
const longestAway = 60

// Validate refuses confirmations of what is not asked.
func (c Away) Validate() error {
	var keys []string
	for _, h := range grow.ByHand {
		keys = append(keys, h.Key)
	}
	for _, k := range c.Confirm {
		if !slices.Contains(keys, k) {
			return fmt.Errorf("--confirm %q: write one or more of %s", k, strings.Join(keys, ", "))
		}
	}
	return nil
}

// Run prints the check. It is cli.ErrNo when anything is left to do.
func (c Away) Run(ctx context.Context, s *cli.Session) error {
	site, _, err := c.Load(s)
	if err != nil {
		return err
	}
	from := c.From.Or(today(site))
	if n := int(c.Until.Day - from); n < 1 || n > longestAway {
		return cli.Usagef("--until %s: give a day 1 to %d days after %s", c.Until.Day, longestAway, from)
	}
	record, missing := readRecord(ctx, c.Client(), site)
	if missing != nil {
		s.Notice("The record is left out: %v", missing)
	}
	a, err := awayOf(ctx, site, from, c.Until.Day)
	if err != nil {
		return err
	}
	a.Confirmed, a.Record = c.Confirm, record
	if c.Paper != "" {
		if err := cli.WriteFile(c.Paper, func(w io.Writer) error { return writeTimerPaper(w, site, from) }); err != nil {
			return err
		}
		s.Notice("The page for a plug-in timer is in %s.", c.Paper)
	}
	return c.print(s, site, a.Check(), from)
}

// awayOf is the check without the record, and lives through the days.
func awayOf(ctx context.Context, site *config.Site, from, until schedule.Date) (*grow.Away, error) {
	a, err := outlook.Away(site, from, until)
	if err != nil {
		return nil, err
	}
	a.Rehearsed, err = rehearseAway(ctx, site, from, int(until-from))
	return a, err
}

// rehearseAway lives through the days away in hot weather with nobody there.
func rehearseAway(ctx context.Context, site *config.Site, from schedule.Date, days int) (grow.Rehearsed, error) {
	s := rehearse.Plain(from, days, defaultSeed)
	s.Weather, s.Attended = "hot", false
	report, err := rehearse.Run(ctx, site, s, rehearse.Options{})
	if err != nil {
		return grow.Rehearsed{}, err
	}
	r := grow.Rehearsed{Spilled: demand.Litres(report.SpilledL), Broken: report.BrokenInvariants}
	for _, b := range site.Batches {
		lowest, stood := report.LowestWaterFraction[b.Name]
		if !stood {
			lowest = 2
		}
		r.Lowest = append(r.Lowest, lowest)
	}
	return r, nil
}

func (c Away) print(s *cli.Session, site *config.Site, items []grow.Item, from schedule.Date) error {
	fine := !slices.ContainsFunc(items, func(i grow.Item) bool { return i.Mark != grow.Fine })
	var err error
	if c.JSON {
		err = s.PrintJSON(awayObject(from, c.Until.Day, items, fine))
	} else {
		err = writeAway(s.Out, site, items, from, c.Until.Day, fine)
	}
	if err == nil && !fine {
		return cli.ErrNo
	}
	return err
}

func awayObject(from, until schedule.Date, items []grow.Item, fine bool) any {
	type item struct {
		Name   string `json:"name"`
		Mark   string `json:"mark"` // fine, wrong, asked or unread
		Reason string `json:"reason"`
	}
	all := []item{}
	for _, i := range items {
		all = append(all, item{i.Name, i.Mark.String(), i.Reason})
	}
	return struct {
		From  string `json:"from"`
		Until string `json:"until"`
		Fine  bool   `json:"fine"`
		Items []item `json:"items"`
	}{from.String(), until.String(), fine, all}
}

func writeAway(w io.Writer, site *config.Site, items []grow.Item, from, until schedule.Date, fine bool) error {
	marks := map[grow.Mark]string{grow.Fine: "ok", grow.Wrong: "NO", grow.Asked: "you", grow.Unread: "?"}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: away from %s, back on %s\n\n", site.Name, from, until)
	t := texts.NewTable(&b)
	left := 0
	for _, i := range items {
		if i.Mark != grow.Fine {
			left++
		}
		fmt.Fprintf(t, "%s\t%s\t%s\n", marks[i.Mark], i.Name, i.Reason)
	}
	_ = t.Flush() // into memory
	if fine {
		fmt.Fprintln(&b, "\nAll is fine. Have a good time.")
	} else {
		fmt.Fprintf(&b, "\n%d of %d are left to see to.\n", left, len(items))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
