package rehearse

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/schedule"
)

// width is the screen that the report is written for.
const width = 80

// WriteText writes the report for people, within 80 columns.
func (r *Report) WriteText(w io.Writer) error {
	var b strings.Builder
	r.writeHead(&b)
	r.writeDays(&b)
	r.writeTrips(&b)
	r.writeMessages(&b)
	r.writeActs(&b)
	r.writeWater(&b)
	r.writeBroken(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

func (r *Report) writeHead(b *strings.Builder) {
	fmt.Fprintf(b, "%d days from %s, %s weather, seed %d\n", r.Days, r.From, r.Weather, r.Seed)
	var counts []string
	for _, o := range controller.Outcomes {
		if n := r.Floods[o]; n > 0 {
			counts = append(counts, fmt.Sprintf("%d %s", n, o))
		}
	}
	fmt.Fprintf(b, "%s: %s\n", plural(len(r.Ledger), "flood"), strings.Join(counts, ", "))
}

// marks are what the day lines show for an outcome.
var marks = map[controller.Outcome]string{
	controller.Proven: "+", controller.Short: "short", controller.Unproven: "unproven",
	controller.Interrupted: "interrupted", controller.Skipped: "skipped", controller.Refused: "refused", controller.Missed: "missed", "": "under way",
}

// writeDays writes a line a day and bench: each flood's time and outcome, with
// a + for one that is proven, and a line where another stage begins.
func (r *Report) writeDays(b *strings.Builder) {
	days := r.days()
	if len(days) == 0 {
		return
	}
	b.WriteString("\nDay by day; + is a proven flood\n")
	several := slices.ContainsFunc(days, func(d day) bool { return d.bench != days[0].bench })
	for i := range days {
		d := &days[i]
		bench := ""
		if several {
			bench = texts.Listed(d.bench, r.Titles.Benches) + "  "
		}
		if d.begins {
			fmt.Fprintf(b, "  %s%s\n", bench, ruleText(d.rule))
		}
		if len(d.floods) > 0 {
			hang(b, fmt.Sprintf("  %-10s  %s", dayText(d.date), bench), d.marks())
		}
	}
}

func dayText(d schedule.Date) string {
	return fmt.Sprintf("%s %2d %s", d.Weekday().String()[:3], d.Day(), d.Month().String()[:3])
}

func ruleText(p schedule.Planned) string {
	rate := plural(p.PerDay, "flood") + " a day"
	if p.Apart > 0 {
		rate = "a flood each " + quantity.Duration(p.Apart)
	}
	return fmt.Sprintf("-- stage %d: %s, hold %s, strength %.0f %%", p.Stage+1, rate, quantity.Duration(p.Hold), p.Strength*100)
}

func (d *day) marks() []string {
	var all []string
	for _, f := range d.floods {
		at, mark := "--:--", marks[f.Outcome]
		if f.HasSlot {
			at = f.Slot.TimeOfDay().String()
		}
		if f.Cause != controller.BySchedule {
			mark = string(f.Cause) + " " + mark
		}
		if f.Attempt > 0 {
			mark += " (retried)"
		}
		all = append(all, at+" "+mark)
	}
	return all
}

// writeTrips lists the interlocks that acted; one that acts again for the same
// reason is counted.
func (r *Report) writeTrips(b *strings.Builder) {
	if len(r.Trips) == 0 {
		return
	}
	fmt.Fprintf(b, "\nInterlocks acted %s\n", times(len(r.Trips)))
	for i := 0; i < len(r.Trips); {
		t, n := r.Trips[i], 1
		for i+n < len(r.Trips) && t.again(r.Trips[i+n]) {
			n++
		}
		what := string(t.Interlock)
		if t.Latched {
			what += ", latched"
		}
		text := strings.TrimSpace(fmt.Sprintf("%s %s: %s", texts.Listed(t.Bench, r.Titles.Benches, r.Titles.Reservoirs), what, t.Detail))
		if n > 1 {
			text += fmt.Sprintf(" (%s, last %s)", times(n), short(r.Trips[i+n-1].At))
		}
		wrap(b, fmt.Sprintf("  %s  ", short(t.At)), text)
		i += n
	}
}

// again reports whether u is t but for its time.
func (t Trip) again(u Trip) bool {
	u.At = t.At
	return t == u
}

// mostMessages is how many messages a person reads in a report.
const mostMessages = 40

func (r *Report) writeMessages(b *strings.Builder) {
	if len(r.Messages) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", plural(len(r.Messages), "message"))
	for i, m := range r.Messages {
		if i == mostMessages {
			fmt.Fprintf(b, "  and %d more, all in the JSON form of this report\n", len(r.Messages)-i)
			return
		}
		wrap(b, fmt.Sprintf("  %s  ", short(m.At)), fmt.Sprintf("[%s] %s", m.Urgency, m.Text))
	}
}

func (r *Report) writeActs(b *strings.Builder) {
	if len(r.Acts) == 0 {
		return
	}
	b.WriteString("\nWhat people did\n")
	for _, a := range r.Acts {
		wrap(b, fmt.Sprintf("  %s  ", short(a.At)), strings.TrimSpace(a.Do+" "+texts.Listed(a.Where, r.Titles.Benches, r.Titles.Reservoirs, r.Titles.Batches))+": "+a.Answer)
	}
}

// Depth is one of water, in mm, as people read it.
func (r *Report) Depth(mm float64) string { return r.Units.Depth(quantity.Metres(mm / 1000)) }

// Volume is one of water, in litres, as people read it.
func (r *Report) Volume(litres float64) string { return r.Units.Reckoned(quantity.Litres(litres)) }

func (r *Report) writeWater(b *strings.Builder) {
	fmt.Fprintf(b, "\nWater: topped up %s, spilled %s, lowest reservoir %s,\n       deepest table %s\n",
		r.Volume(r.ToppedUpL), r.Volume(r.SpilledL), r.Volume(r.ReservoirMinL), r.Depth(r.PeakDepthMM))
	for _, name := range slices.Sorted(maps.Keys(r.PumpS)) {
		fmt.Fprintf(b, "Pump %s ran %s\n", name, ran(r.PumpS[name]))
	}
	if r.DryPumpS > 0 {
		fmt.Fprintf(b, "Pumps ran dry for %s\n", ran(r.DryPumpS))
	}
	for _, name := range slices.Sorted(maps.Keys(r.LongestGapH)) {
		fmt.Fprintf(b, "Batch %s: longest without a flood %.1f h", texts.Listed(name, r.Titles.Batches), r.LongestGapH[name])
		if low, ok := r.LowestWaterFraction[name]; ok {
			fmt.Fprintf(b, ",\n       driest pots at %.0f %% of what they hold", low*100)
		}
		b.WriteString("\n")
	}
}

func (r *Report) writeBroken(b *strings.Builder) {
	if r.Fine() {
		b.WriteString("\nEvery invariant held.\n")
		return
	}
	fmt.Fprintf(b, "\nBROKEN INVARIANTS: %d\n", len(r.BrokenInvariants))
	for _, text := range r.BrokenInvariants {
		wrap(b, "  ", text)
	}
}

// ran prints seconds of pump time.
func ran(s float64) string { return quantity.Duration(time.Duration(s * float64(time.Second))) }

// short is a stamp as a list shows it: date and time of day.
func short(stamp string) string { return stamp[5:10] + " " + stamp[11:16] }

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// wrap writes text behind head, in as many lines as it takes.
func wrap(b *strings.Builder, head, text string) { fold(b, head, strings.Fields(text), " ") }

// hang writes items behind head, in as many lines as they take.
func hang(b *strings.Builder, head string, items []string) { fold(b, head, items, "  ") }

func fold(b *strings.Builder, head string, items []string, between string) {
	indent := texts.Width(head)
	b.WriteString(head)
	column := indent
	for _, item := range items {
		n := texts.Width(item)
		switch {
		case column == indent:
		case column+len(between)+n > width:
			b.WriteString("\n" + strings.Repeat(" ", indent))
			column = indent
		default:
			b.WriteString(between)
			column += len(between)
		}
		b.WriteString(item)
		column += n
	}
	b.WriteString("\n")
}
