package commission

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/schedule"
)

// calibrationFloods is how many floods a calibration is made from.
const calibrationFloods = 3

// calibrate times three floods of bench i and takes its figures from them.
// Floods that were timed before the dialogue was stopped count.
func (d *dialogue) calibrate(i int) error {
	if !d.hasFull(i) {
		d.say("  There is no FULL: nothing can be timed, and the file's figures stand.")
		return nil
	}
	d.say("  The pots are wet from the flood before. Have a watch, and a scale on %s.", d.tank(i))
	floods, err := d.timedBefore(i)
	if err != nil {
		return err
	}
	for {
		for len(floods) < calibrationFloods {
			d.say("  Flood %d of %d.", len(floods)+1, calibrationFloods)
			f, err := d.timeFlood(i, d.timedHold(i, len(floods)))
			if err != nil {
				return err
			}
			if f != nil {
				floods = append(floods, *f)
			}
		}
		err := d.evaluate(i, floods)
		if err == nil {
			return d.startAgain()
		}
		if !errors.Is(err, errDisagree) {
			return err
		}
		d.say("  %v.", err)
		if err := d.again("The three floods count for nothing", "find out what differs from flood to flood"); err != nil {
			return err
		}
		floods = nil
	}
}

func (d *dialogue) tank(i int) string {
	return d.Site.Titles.Reservoir(d.Site.Reservoirs[d.Site.Benches[i].Reservoir].Name)
}

// bench is what people call bench i.
func (d *dialogue) bench(i int) string { return d.Site.Titles.Bench(d.Site.Benches[i].Name) }

// timedBefore are the floods of bench i that are on record in this commissioning.
func (d *dialogue) timedBefore(i int) (floods []timedData, err error) {
	entries, err := d.Record.Entries()
	for _, e := range entries {
		mine := e.Place == d.Site.Benches[i].Name && e.Fingerprint == d.Site.Fingerprint()
		switch {
		case e.What == begun, e.What == commissioned, mine && (e.What == discarded || e.What == calibrated):
			floods = nil
		case mine && e.What == timed:
			var f timedData
			if err := json.Unmarshal(e.Data, &f); err != nil {
				return nil, fmt.Errorf("read a timed flood of %q: %w", e.Place, err)
			}
			floods = append(floods, f)
		}
	}
	return floods, err
}

// readHold is long enough to read how much is out while the water stands.
const readHold = 5 * time.Minute

// timedHold is how long the timed flood number n stands: the last as long as any
// may, so that it shows what the overflow carries.
func (d *dialogue) timedHold(i, n int) time.Duration {
	most := d.limits(i).MaxHold
	if n == calibrationFloods-1 || most == 0 {
		return forever
	}
	return min(readHold, most)
}

// timeFlood times one flood of bench i; nil when it was not proven.
func (d *dialogue) timeFlood(i int, hold time.Duration) (*timedData, error) {
	if err := d.ready(i); err != nil {
		return nil, err
	}
	before, err := d.litres(i, "Tables bare: how much is in %s?")
	if err != nil {
		return nil, err
	}
	var t timedData
	f, err := d.flood(i, hold, func() error { return d.measure(i, before, &t) })
	switch {
	case err != nil:
		return nil, err
	case f.Outcome != controller.Proven:
		return nil, d.again("That flood does not count", "find out why, then start again")
	}
	t.Fill, t.Fall, t.Hold = f.Fill, f.Fall, f.Hold
	if d.Site.Benches[i].Empty != nil {
		t.Drain = d.ended - d.stopped
	}
	d.say("  Fill %s, fall %s, drain %s, %s drawn.", quantity.Duration(t.Fill), quantity.Duration(t.Fall), orNotRead(t.Drain > 0, quantity.Duration(t.Drain)),
		orNotRead(t.Drawn > 0, d.Site.Units.Volume(t.Drawn)))
	d.clearOfHigh(i, t.Settle)
	return &t, d.add(timed, d.Site.Benches[i].Name, t)
}

// clearance is how far HIGH ought to stand above an ordinary flood, whose waves
// must not reach it (common practice, no source).
const clearance quantity.Metres = 0.005

// clearOfHigh warns of a HIGH that ordinary floods come close to.
func (d *dialogue) clearOfHigh(i int, settle quantity.Metres) {
	if high := d.Site.Benches[i].High; high != nil && settle > 0 && high.At-settle < clearance {
		d.say("  Note: HIGH at %s is less than %s above this flood: set it higher, or waves will stop floods.",
			d.Site.Units.Mark(high.At), d.Site.Units.Depth(clearance))
	}
}

func orNotRead(read bool, text string) string {
	if read {
		return text
	}
	return "not read"
}

// measure takes the readings of a flood while it goes on.
func (d *dialogue) measure(i int, before quantity.Litres, t *timedData) error {
	made, err := d.full(i)
	if err != nil || !made {
		return err
	}
	if before > 0 {
		if t.Drawn, err = d.drawn(i, before); err != nil {
			return err
		}
	}
	if t.Settle, err = d.stands(i); err != nil {
		return err
	}
	if err := d.until(readyWithin, func() bool { return !d.running(i) }); err != nil || d.Site.Benches[i].Empty != nil {
		return err
	}
	d.say("  The pump has stopped.")
	t.Drain, err = d.drained(i)
	return err
}

// litres asks for what is in the reservoir of bench i; 0 when nobody can read
// it. At a simulated bench the answer may be to read its scale.
func (d *dialogue) litres(i int, question string) (quantity.Litres, error) {
	tank := d.Site.Benches[i].Reservoir
	question = fmt.Sprintf(question, d.tank(i)) + " A volume such as " + d.either("120 L", "30 gal") + ", or -"
	if d.Hands == nil {
		return read(d, quantity.ParseVolume, question)
	}
	scale := func(text string) (quantity.Litres, error) {
		if text != "scale" {
			return quantity.ParseVolume(text)
		}
		litres := d.Hands.Scale(tank)
		d.say("    the scale shows %s", d.Site.Units.Volume(litres))
		return litres, nil
	}
	return read(d, scale, question+", or scale to read the simulated one")
}

// either is what people of the site would write.
func (d *dialogue) either(metric, us string) string {
	if d.Site.Units == quantity.US {
		return us
	}
	return metric
}

// read asks for a quantity until one is given, or - for none.
func read[Q ~float64](d *dialogue, parse func(string) (Q, error), question string) (Q, error) {
	for {
		text, err := d.ask("%s", question)
		if err != nil || text == "-" {
			return 0, err
		}
		q, err := parse(text)
		if err == nil {
			return q, nil
		}
		d.say("  %v.", err)
	}
}

var errDisagree = errors.New("these floods are no calibration")

// evaluate takes the figures of bench i from its floods, and puts them on record.
func (d *dialogue) evaluate(i int, floods []timedData) error {
	name := d.Site.Benches[i].Name
	now := d.Clock.Now()
	var all []sheet.Timed
	for _, f := range floods {
		all = append(all, sheet.Timed{Fill: f.Fill, Fall: f.Fall, Drain: f.Drain, Drawn: f.Drawn, Settle: f.Settle})
	}
	found, err := sheet.Calibrate(d.Site.BenchOn(i, schedule.CivilIn(now.Wall, d.Site.Zone).Date()), all)
	if err != nil {
		return errors.Join(errDisagree, err, d.add(discarded, name, err.Error()))
	}
	if err := d.believed(i, found.Cycle); errors.Is(err, errDisagree) {
		return errors.Join(err, d.add(discarded, name, err.Error()))
	} else if err != nil {
		return err
	}
	c := d.calibrationOf(i, found, floods)
	site, err := d.site.WithCalibration(map[string]sheet.Cycle{name: c.cycle()})
	if err != nil {
		return errors.Join(fmt.Errorf("%w: %w; put the file right", ErrFailed, err), d.discardImpossible(name, err))
	}
	d.site = site
	d.tellFound(found)
	return d.add(calibrated, name, c)
}

// tellFound says what the floods came to and how sure that is.
func (d *dialogue) tellFound(c sheet.Calibration) {
	u := d.Site.Units
	d.say("  The floods say: flow %s, give or take %s; area that fills %s, give or take %s; the drain takes %.2f times what the file says, give or take %.2f. 19 in 20 lie so near.",
		u.Flow(quantity.LitresPerHour(c.Flow.Value)), u.Flow(quantity.LitresPerHour(c.Flow.Value*float64(c.Flow.Give))),
		u.Area(quantity.SquareMetres(c.Free.Value)), u.Area(quantity.SquareMetres(c.Free.Value*float64(c.Free.Give))),
		c.Home.Value, c.Home.Value*float64(c.Home.Give))
	for _, a := range c.Assumed {
		d.say("  Note: %s.", a)
	}
}

// discardImpossible puts aside floods whose times the file cannot bear, so that
// the next try begins with new ones. What else is wrong with the file takes
// nothing from them.
func (d *dialogue) discardImpossible(name string, err error) error {
	if !strings.Contains(err.Error(), "benches."+name+".cycle.") {
		return nil
	}
	return d.add(discarded, name, err.Error())
}

func (d *dialogue) calibrationOf(i int, found sheet.Calibration, floods []timedData) calibration {
	return calibration{
		Plumbing: d.Site.Plumbing(i),
		Fill:     found.Cycle.Fill.Seconds(), Fall: found.Cycle.Fall.Seconds(), Drain: found.Cycle.Drain.Seconds(),
		Flow: float64(found.Cycle.Flow), Free: float64(found.Cycle.Free),
		Spread:   float64(max(found.Flow.Spread, found.Free.Spread, found.Home.Spread)),
		FlowGive: float64(found.Flow.Give), FreeGive: float64(found.Free.Give), Home: found.Home.Value, HomeGive: float64(found.Home.Give),
		Floods: floods, Assumed: found.Assumed,
	}
}
