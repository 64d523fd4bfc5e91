package commission

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/safety"
	"benchtide/schedule"
)

// How far what a person reads or times may lie from what the figures of the
// file come to before the person is asked once more: half or twice for times,
// which hang on entrances, fittings and levels; less for litres, whose figures
// are plain geometry (common practice, no source).
const (
	halfOf, twice         = 0.5, 2
	fewLitres, manyLitres = 0.8, 1.3
	aside                 = quantity.Metres(0.012) // of a height
	leastRest             = 0.67                   // of the time to drain: with less the guard's rest would become too short
)

// reckoned is what the figures of the file, without those that were measured,
// make of bench i with the pots that stand on it today, wet from a flood before.
func (d *dialogue) reckoned(i int) (sheet.Sheet, bool) {
	b := d.Site.BenchOn(i, schedule.CivilIn(d.Clock.Now().Wall, d.Site.Zone).Date())
	b.Cycle = sheet.Cycle{}
	for _, set := range b.Tenants {
		for j := range set {
			set[j].Capacity = 0
		}
	}
	made, err := sheet.New(b)
	return made, err == nil
}

// sure has a person look once more at what is hard to believe; false has it
// read again.
func (d *dialogue) sure(format string, args ...any) (bool, error) {
	answer, err := d.choose(fmt.Sprintf(format, args...)+" Is it right? No asks again", "yes", "no")
	return answer == "yes", err
}

// drained has a person say when the table is bare.
func (d *dialogue) drained(i int) (time.Duration, error) {
	made, known := d.reckoned(i)
	for {
		if _, err := d.ask("Answer when the table is bare but for a film"); err != nil {
			return 0, err
		}
		took := d.now() - d.stopped
		switch {
		case d.status.Benches[i].Full == safety.Wet:
			d.say("  That cannot be: FULL still shows water.")
			continue
		case !known || within(took, made.Drain):
			return took, nil
		}
		if sure, err := d.sure("The table was bare %s after the pump stopped, and by the figures of the file that takes %s.", quantity.Duration(took), quantity.Duration(made.Drain)); err != nil || sure {
			return took, err
		}
	}
}

func within(is, reckoned time.Duration) bool {
	times := float64(is) / float64(reckoned)
	return times >= halfOf && times <= twice
}

// drawn has a person read what has left the reservoir of bench i for the flood
// that stands; 0 where nobody can, or where the pump stopped meanwhile.
func (d *dialogue) drawn(i int, before quantity.Litres) (quantity.Litres, error) {
	made, known := d.reckoned(i)
	for {
		during, err := d.litres(i, "When the water stands still over the standpipe: how much is in %s?")
		if err != nil || during == 0 {
			return 0, err
		}
		out := before - during
		share := float64(out / made.VFlood)
		switch {
		case !d.running(i):
			d.say("  That reading does not count: it has to be taken while the pump runs.")
			return 0, nil
		case out <= 0:
			d.say("  That cannot be: with the table flooded there is less in %s than the %s before.", d.tank(i), d.Site.Units.Volume(before))
			continue
		case !known || share >= fewLitres && share <= manyLitres:
			return out, nil
		}
		if sure, err := d.sure("So %s are out, and by the figures of the file a flood takes %s: read when the water goes over the standpipe and its level stands still.",
			d.Site.Units.Volume(out), d.Site.Units.Volume(made.VFlood)); err != nil || sure {
			return out, err
		}
	}
}

// stands has a person read how high the water stands; 0 where nobody can.
func (d *dialogue) stands(i int) (quantity.Metres, error) {
	b := &d.Site.Benches[i]
	made, known := d.reckoned(i)
	for {
		high, err := read(d, quantity.ParseLength, "How high does the water stand over the floor of the table? A height such as "+d.either("38 mm", "1 1/2 in")+", or -")
		if err != nil || high == 0 {
			return 0, err
		}
		peak := b.Standpipe.Crest + made.OverflowHead
		switch {
		case high >= b.Table.Rim:
			d.say("  That cannot be: the rim is at %s, and the water would go over it.", d.Site.Units.Mark(b.Table.Rim))
			continue
		case b.Full != nil && high < b.Full.At:
			d.say("  That cannot be: FULL is at %s and shows water. Measure from the floor of the table.", d.Site.Units.Mark(b.Full.At))
			continue
		case !known || high > peak-aside && high < peak+aside:
			return high, nil
		}
		if sure, err := d.sure("The water stands at %s, and by the figures of the file at %s.", d.Site.Units.Mark(high), d.Site.Units.Depth(peak)); err != nil || sure {
			return high, err
		}
	}
}

// believed has a person say twice that times stand which the figures of the file
// do not explain, before the guard goes by them: once for what was seen, and
// once for what follows.
func (d *dialogue) believed(i int, c sheet.Cycle) error {
	made, known := d.reckoned(i)
	if !known {
		return nil
	}
	var odd []string
	for _, f := range []struct {
		what         string
		is, reckoned time.Duration
		least        float64
	}{
		{"the fill", c.Fill, made.Fill, halfOf},
		{"the fall below FULL", c.Fall, made.Fall, halfOf},
		{"the drain", c.Drain, made.Drain, leastRest},
	} {
		times := float64(f.is) / float64(f.reckoned)
		if f.is > 0 && (times < f.least || times > twice && f.is-f.reckoned > time.Minute) {
			odd = append(odd, fmt.Sprintf("%s took %s, and by the figures of the file %s", f.what, quantity.Duration(f.is), quantity.Duration(f.reckoned)))
		}
	}
	if len(odd) == 0 {
		return nil
	}
	d.say("  Hard to believe: %s.", strings.Join(odd, "; "))
	d.say("  The guard's limits would follow: %s of rest between floods, FULL within %s to %s.",
		quantity.Duration(orReckoned(c.Drain, made.Drain)+safety.RestMargin), quantity.Duration(orReckoned(c.Fill, made.Fill)/2), quantity.Duration(orReckoned(c.Fill, made.Fill)*3/2))
	for _, question := range []string{"Are these times right, as you saw them?", "The figures of table, pump, hose and drain in the file were looked at again, and the limits are to follow these times?"} {
		answer, err := d.choose(question, "yes", "no")
		if err != nil {
			return err
		}
		if answer == "no" {
			return errors.Join(errDisagree, errors.New("these times were taken back"))
		}
	}
	return nil
}

func orReckoned(is, reckoned time.Duration) time.Duration {
	if is > 0 {
		return is
	}
	return reckoned
}
