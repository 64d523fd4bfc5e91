package commission

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// endurance stands the longest hold that the guard grants on bench i, attended.
func (d *dialogue) endurance(i int) error {
	if d.stood(i) {
		d.say("  The timed floods have stood it.")
		return d.confirm(carried, widen)
	}
	for {
		if err := d.ready(i); err != nil {
			return err
		}
		d.say("  The pump runs on at the crest for %s.", quantity.Duration(d.limits(i).MaxHold))
		f, err := d.flood(i, forever, func() error {
			return d.until(readyWithin, func() bool { return !d.running(i) })
		})
		if err != nil {
			return err
		}
		if d.succeeded(i, f) {
			return d.confirm(carried, widen)
		}
		if err := d.again("That flood is not proven", "find out why, then start again"); err != nil {
			return err
		}
	}
}

const (
	carried = "Did the standpipe carry all of it to the end, and the floor stay dry?"
	widen   = "widen the standpipe, or take a smaller pump"
)

// stood reports whether a flood that was timed in this commissioning stood as
// long on bench i as any may.
func (d *dialogue) stood(i int) bool {
	entries, err := d.Record.Entries()
	if err != nil {
		return false
	}
	var longest time.Duration
	for _, e := range entries {
		var c calibration
		switch {
		case e.What == begun:
			longest = 0
		case e.What == calibrated && e.Place == d.Site.Benches[i].Name && json.Unmarshal(e.Data, &c) == nil:
			for _, f := range c.Floods {
				longest = max(longest, f.Hold)
			}
		}
	}
	return longest > 0 && longest >= d.limits(i).MaxHold
}

// summary shows what the limits have become, and has the person sign.
func (d *dialogue) summary(int) error {
	before, after := d.Site.Limits().Benches, d.site.Limits().Benches
	for i := range after {
		d.say("  %s", d.bench(i))
		d.compare("T_fill", before[i].Fill, after[i].Fill)
		d.compare("T_fall", before[i].Fall, after[i].Fall)
		d.compare("T_drain", before[i].Drain, after[i].Drain)
		was, is := d.Site.Held(i), d.site.Held(i)
		d.compare("max run", was.MaxRun, is.MaxRun)
		d.compare("T_over", before[i].Over, after[i].Over)
		d.compare("min rest", was.MinRest, is.MinRest)
		d.say("    %-9s %s, %s a flood", "flow", d.Site.Units.Flow(quantity.LitresPerHour(after[i].Flow*3600)), d.Site.Units.Volume(quantity.Litres(after[i].Flood)))
		d.say("    %-9s %s to %s", "window", quantity.Duration(is.FillFrom), quantity.Duration(is.FillBy))
		if sh := d.site.Sheet(i); sh.CanOverfill {
			d.say("    With no more than %s in %s nothing could overfill the table.", d.Site.Units.Most(sh.ToRim), d.tank(i))
		}
		d.say("    The record keeps it. To have it in the file, too, write there:")
		d.say("    cycle: %s", written(d.site.Benches[i].Cycle, d.Site.Units))
	}
	if _, err := d.ask("Who has commissioned this? A name for the record"); err != nil {
		return err
	}
	if d.Site.Board == config.Simulated {
		d.say("A trial on the simulated board: it says nothing of a real one.")
		return nil
	}
	d.say("Commissioned. Rehearse the schedule, and stay within reach for the first three days. Prove the switches again within %d days.", int(TestEvery/(24*time.Hour)))
	return nil
}

// written is what was measured as the file has it, without what was not.
func written(c sheet.Cycle, u quantity.Units) string {
	var parts []string
	for _, t := range []struct {
		key  string
		took time.Duration
	}{{"fill", c.Fill}, {"fall", c.Fall}, {"drain", c.Drain}} {
		if t.took > 0 {
			parts = append(parts, fmt.Sprintf("%s: %.1f s", t.key, t.took.Seconds()))
		}
	}
	if c.Flow > 0 {
		unit := quantity.LitrePerHour
		if u == quantity.US {
			unit = quantity.GallonsPerHour
		}
		parts = append(parts, "flow: "+quantity.In(c.Flow, unit)) // as finely as it was measured
	}
	if c.Free > 0 {
		parts = append(parts, "free: "+quantity.In(c.Free, quantity.Percent))
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func (d *dialogue) compare(what string, file, measured time.Duration) {
	note := ""
	if measured != file {
		note = fmt.Sprintf(" (%s by the file)", quantity.Duration(file))
	}
	d.say("    %-9s %s%s", what, quantity.Duration(measured), note)
}
