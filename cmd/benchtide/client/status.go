// Package client has the commands that only ask a running daemon, or have it act:
// they read no file of the site and know no bench but by its name.
package client

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/controller/web"
)

// Status tells how the benches stand.
type Status struct{ ask.Question }

// Help is what its --help says beside the flags, with an example.
func (Status) Help() string {
	return `What each bench does, when it last really flooded and floods next, how long each
crop can still wait, and what stands in the way.

Example:

    benchtide status`
}

// Run prints it.
func (c Status) Run(ctx context.Context, s *cli.Session) error {
	return ask.Show(ctx, s, c.Question, "status", nil, writeStatus)
}

func writeStatus(w io.Writer, st *live.Status) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s\n", st.Site, ask.Clock(st.At, "Mon 2 Jan 2006 15:04:05"))
	if !st.ClockTrusted {
		fmt.Fprintln(&b, "! The clock is not trusted: floods follow elapsed time, not the calendar.")
	}
	if st.HandsIn {
		fmt.Fprintln(&b, "! Hands-in: nothing starts until it is ended.")
	}
	t, called := texts.NewTable(&b), st.Titles()
	for i := range st.Benches {
		writeBench(t, &st.Benches[i], st, called)
	}
	for _, k := range st.Batches {
		writeBatch(t, &k, called)
	}
	for i := range st.Reservoirs {
		writeReservoir(t, &st.Reservoirs[i], st.Units, called)
	}
	for _, l := range st.Left {
		fmt.Fprintf(t, "%s\tleft the file; kept until \"benchtide drop %s\"\n", l.Name, l.Name)
		for _, trip := range l.Latched {
			fmt.Fprintf(t, "\t! locked until reset since %s: %s\n", ask.Clock(trip.At, ask.DayAndTime), trip.Said(called, l.Name))
		}
	}
	writeCommissioning(t, &st.Commissioning, called)
	writeRecord(t, &st.Record)
	writeMessages(t, &st.Messages)
	_ = t.Flush() // into memory
	_, err := io.WriteString(w, b.String())
	return err
}

// warmth is the temperature of the solution, where it is known.
func warmth(r *live.ReservoirStatus, u quantity.Units) string {
	if r.TemperatureC == nil {
		return ""
	}
	return ", " + u.Thermometer(quantity.Celsius(*r.TemperatureC))
}

func writeBench(w io.Writer, b *live.BenchStatus, st *live.Status, called texts.Titles) {
	fmt.Fprintf(w, "%s\t%s\n", texts.Listed(b.Name, called.Benches), doing(b))
	for _, t := range b.Latched {
		fmt.Fprintf(w, "\t! locked until reset since %s: %s\n", ask.Clock(t.At, ask.DayAndTime), t.Said(called, b.Name))
	}
	if b.PausedUntil != nil {
		fmt.Fprintf(w, "\t! paused until %s\n", ask.Clock(*b.PausedUntil, ask.DayAndTime))
	}
	if b.Sanitising != nil {
		fmt.Fprintf(w, "\t! being sanitised since %s: nothing floods by itself until rinsed is confirmed\n", ask.Clock(*b.Sanitising, ask.DayAndTime))
	}
	if r := b.Refusal; r != nil && !r.Latched && b.Flood == nil {
		fmt.Fprintf(w, "\t! would not start now: %s\n", r.Said(called, b.Name))
	}
	if l := b.Last; l != nil {
		fmt.Fprintf(w, "\tthe flood of %s %s\n", ask.Clock(l.Slot, ask.DayAndTime), live.Ended(called, l))
	}
	if b.LastProven != nil {
		fmt.Fprintf(w, "\tlast proven %s\n", ask.Clock(*b.LastProven, ask.DayAndTime))
	}
	for _, k := range b.Skipped {
		if k.Slot != nil {
			fmt.Fprintf(w, "\tskipped %s: left out by a person\n", ask.Clock(*k.Slot, ask.DayAndTime))
		} else {
			fmt.Fprintln(w, "\tskipped: a person left out the next flood")
		}
	}
	switch n := b.Next; {
	case n != nil:
		fmt.Fprintf(w, "\tnext flood %s, hold %s at strength %.0f %%\n", ask.Clock(n.Due, ask.DayAndTime), spoken(n.HoldS), 100*n.Strength)
	case st.Plan == "elapsed":
		fmt.Fprintln(w, "\tthe next flood follows elapsed time")
	default:
		fmt.Fprintln(w, "\tno flood is planned")
	}
}

func writeBatch(w io.Writer, k *live.BatchStatus, called texts.Titles) {
	name := texts.Listed(k.Name, called.Batches)
	switch {
	case k.Stage != nil:
		limit := "can wait " + spoken(k.LimitS)
		if k.LimitBy == "pots" {
			limit = "its pots last " + spoken(k.LimitS) + " in hot weather"
		}
		fmt.Fprintf(w, "%s\thas waited %s for water, %s (%.0f %%)\n", name, spoken(k.SinceS), limit, 100*k.Ratio)
		if k.NoFlood {
			fmt.Fprintln(w, "\tno flood on record since it came or the program began")
		}
	case k.Closed != nil:
		fmt.Fprintf(w, "%s\tclosed, its last day was %s\n", name, *k.Closed)
	default:
		fmt.Fprintf(w, "%s\tin no stage today\n", name)
	}
	if k.Stage != nil && *k.Due > *k.Stage {
		fmt.Fprintf(w, "\t! its stage from day %d is due; it stays in the one from day %d until it is advanced\n", *k.Due, *k.Stage)
	}
}

// doing says what a bench does, and how sure the water's place is.
func doing(b *live.BenchStatus) string {
	phase, known := map[string]string{
		"rest": "at rest", "recording": "about to flood", "filling": "filling: pump on", "holding": "full: holding", "draining": "draining",
	}[b.Phase]
	if !known { // to a command older than its daemon
		phase = b.Phase
	}
	if b.Phase == "rest" && b.Water == "standing" {
		phase += "; water may still stand on it"
	}
	if b.Flood != nil && b.Flood.FillS != nil {
		phase += ", filled in " + spoken(*b.Flood.FillS)
	}
	if b.Queued > 0 {
		phase += fmt.Sprintf("; %d waiting", b.Queued)
	}
	return phase
}

func writeRecord(w io.Writer, r *live.RecordStatus) {
	switch {
	case r.Trouble != nil:
		fmt.Fprintf(w, "record\t! storage takes no writes: %s; %d rows wait in memory\n", *r.Trouble, r.Waiting)
	case !r.Kept:
		fmt.Fprintln(w, "record\tgoes with the program")
	}
	if r.Dropped > 0 {
		fmt.Fprintf(w, "record\t! %d rows of detail were lost while storage failed\n", r.Dropped)
	}
}

// spoken is a length of time, to the second below an hour, else to the minute.
func spoken(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second))
	if d >= time.Hour {
		return quantity.Duration(d.Round(time.Minute))
	}
	return live.Short(d)
}

// History lists floods.
type History struct {
	ask.Question
	Last  string `default:"30 d" placeholder:"TIME" help:"How far back, or since when; ${default} unless given."`
	Bench string `placeholder:"NAME" help:"Of one bench alone."`
	Limit string `placeholder:"N" help:"The newest so many; 1000 unless given."`
}

// Help is what its --help says beside the flags, with an example.
func (History) Help() string {
	return `Oldest first, each with its outcome and the reason.

Example:

    benchtide history --last 7d --bench north`
}

// Run prints them.
func (c History) Run(ctx context.Context, s *cli.Session) error {
	return ask.Show(ctx, s, c.Question, "ledger", ask.Parameters("since", c.Last, "bench", c.Bench, "limit", c.Limit), writeHistory)
}

func writeHistory(w io.Writer, rows *web.Floods) error {
	var b strings.Builder
	t := texts.NewTable(&b)
	for _, f := range rows.Floods {
		outcome := string(f.Outcome)
		if outcome == "" {
			outcome = "under way"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", ask.Clock(f.Slot, "Mon 2006-01-02 15:04"), texts.Listed(f.Bench, rows.Titles.Benches), f.Cause, outcome,
			spokenOr(f.FillS, "fill "), spokenOr(f.FallS, "fall "), f.Reason)
	}
	if len(rows.Floods) == 0 {
		fmt.Fprintln(t, "No flood.")
	}
	_ = t.Flush() // into memory
	lines := strings.Split(b.String(), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	_, err := io.WriteString(w, strings.Join(lines, "\n"))
	return err
}

func spokenOr(seconds *float64, what string) string {
	if seconds == nil {
		return ""
	}
	return what + spoken(*seconds)
}
