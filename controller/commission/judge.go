package commission

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/controller/texts"
	"benchtide/safety"
)

// TestEvery is how long a proof test counts: a month (common practice, no source).
const TestEvery = 30 * 24 * time.Hour

// Verdict is what a record is worth for the present file.
type Verdict struct {
	Since      time.Time              // when this wiring was commissioned; zero when it was not, or the board is simulated
	Unattended string                 // why floods may not start unattended; empty when they may
	Tests      []Test                 // by bench; none at a simulated board
	Cycles     map[string]sheet.Cycle // what was measured, by the name of the bench
	Void       []string               // benches whose calibration was of another plumbing
	LeftOut    []LeftOut              // what commissioning did not do, in the order of its steps
}

// Test is how the proof test of a bench's switches stands.
type Test struct {
	Bench   string
	Last    time.Time // zero when it was never done on this wiring
	Due     time.Time // meaningful when it was
	Overdue bool
}

// LeftOut is a step of the commissioning that the person would not do, or that
// an earlier version of the program did not have. It does not count as passed
// until it is.
type LeftOut struct {
	Step  string // what it shows, in words
	Bench string // empty for the site
	At    time.Time
}

// Judge says what entries are worth for a site. A simulated board counts as
// commissioned and its switches as tested. While wall time is not trusted, no
// test counts as overdue for its age.
func Judge(site *config.Site, entries []Entry, now safety.Now) (Verdict, error) {
	st := Verdict{Cycles: map[string]sheet.Cycle{}}
	for _, e := range entries {
		if e.What == calibrated {
			if err := st.calibrate(site, e); err != nil {
				return Verdict{}, err
			}
		}
	}
	if site.Board == config.Simulated {
		return st, nil
	}
	w := wiringOf(site, entries)
	st.Since, st.LeftOut = w.since, w.leftOut(site)
	if why := w.doubt(site.Zone); why != "" {
		st.Unattended = why + `: run "benchtide commission" beside the bench`
	}
	for _, b := range site.Benches {
		st.Tests = append(st.Tests, testOf(b.Name, w.tests[b.Name], now))
	}
	return st, nil
}

// wiring is what entries say of one wiring.
type wiring struct {
	of     string // its fingerprint
	titles texts.Titles
	since  time.Time            // when it was commissioned
	other  bool                 // another one was
	tests  map[string]time.Time // the newest proof test, by bench
	broken map[string]failure   // checks that failed and have not passed since, by key
	open   map[string]time.Time // steps that were left out and not done since, by key
	done   map[string]bool      // steps that have passed, by key
}

type failure struct {
	check string
	at    time.Time
}

func wiringOf(site *config.Site, entries []Entry) *wiring {
	w := &wiring{of: site.Fingerprint(), titles: site.Titles, tests: map[string]time.Time{}, broken: map[string]failure{}, open: map[string]time.Time{}, done: map[string]bool{}}
	for _, e := range entries {
		w.take(e)
	}
	return w
}

// leftOut lists what is open in the order of the steps.
func (w *wiring) leftOut(site *config.Site) (all []LeftOut) {
	for _, p := range partsOf(site) {
		if at, open := w.openSince(p); open {
			all = append(all, LeftOut{p.title, p.place, at})
		}
	}
	return all
}

// openSince says since when a step stands as not done. One that the program
// which commissioned the wiring did not have was left out then.
func (w *wiring) openSince(p part) (time.Time, bool) {
	if at, open := w.open[p.key()]; open {
		return at, true
	}
	return w.since, !w.since.IsZero() && !w.done[p.key()] && p.name != "summary"
}

func (w *wiring) take(e Entry) {
	step := stepOf(e)
	check := fmt.Sprintf("%q", step)
	if e.Place != "" {
		check += " of " + w.titles.Bench(e.Place)
	}
	switch same := e.Fingerprint == w.of; {
	case !same:
		w.other = w.other || e.What == commissioned
	case e.What == failed:
		w.broken[keyOf(e)] = failure{check, e.At}
	case e.What == commissioned:
		w.since = e.At
		maps.DeleteFunc(w.broken, func(key string, _ failure) bool { // what failed and was then left out is as broken as it was
			_, open := w.open[key]
			return !open
		})
	case e.What == leftOut:
		w.open[keyOf(e)] = e.At
	case e.What == proved, e.What == passed:
		delete(w.broken, keyOf(e))
		delete(w.open, keyOf(e))
		w.done[keyOf(e)] = true
		if e.What == proved || step == "switches" {
			w.tests[e.Place] = e.At
		}
	}
}

// doubt says why the wiring may not be trusted; empty when it may.
func (w *wiring) doubt(zone *time.Location) string {
	for _, key := range slices.Sorted(maps.Keys(w.broken)) {
		f := w.broken[key]
		return fmt.Sprintf("the check %s failed on %s", f.check, f.at.In(zone).Format("2 January 2006"))
	}
	switch {
	case !w.since.IsZero():
		return ""
	case w.other:
		return "the wiring in the file is not that which was checked"
	}
	return "nothing of this wiring was checked"
}

func testOf(bench string, last time.Time, now safety.Now) Test {
	t := Test{Bench: bench, Last: last}
	if !last.IsZero() {
		t.Due = last.Add(TestEvery)
	}
	t.Overdue = t.OverdueAt(now)
	return t
}

// OverdueAt reports whether the test is overdue by the date of now.
func (t Test) OverdueAt(now safety.Now) bool {
	return t.Last.IsZero() || now.Trusted && !now.Wall.Before(t.Due)
}

func stepOf(e Entry) string {
	var s stepData
	if json.Unmarshal(e.Data, &s) != nil {
		return ""
	}
	return s.Step
}

// calibrate takes a calibration over when its bench is plumbed as it was.
func (st *Verdict) calibrate(site *config.Site, e Entry) error {
	var c calibration
	if err := json.Unmarshal(e.Data, &c); err != nil {
		return fmt.Errorf("read the calibration of %q: %w", e.Place, err)
	}
	i := slices.IndexFunc(site.Benches, func(b config.Bench) bool { return b.Name == e.Place })
	if i < 0 {
		return nil
	}
	delete(st.Cycles, e.Place)
	st.Void = slices.DeleteFunc(st.Void, func(b string) bool { return b == e.Place })
	if site.Plumbing(i) == c.Plumbing {
		st.Cycles[e.Place] = c.cycle()
	} else {
		st.Void = append(st.Void, e.Place)
	}
	return nil
}

// Lines tells a person how things stand, one thing a line.
func (st Verdict) Lines(site *config.Site) (lines []string) {
	day := func(t time.Time) string { return t.In(site.Zone).Format("2 January 2006") }
	bench := site.Titles.Bench
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	switch {
	case st.Unattended != "":
		add("Not commissioned: %s.", st.Unattended)
	case st.Since.IsZero():
		add("The board is simulated: nothing has to be commissioned.")
	default:
		add("Commissioned on %s.", day(st.Since))
	}
	for _, name := range slices.Sorted(maps.Keys(st.Cycles)) {
		c := st.Cycles[name]
		add("%s is calibrated: fill %s, fall %s, drain %s.", bench(name), quantity.Duration(c.Fill), quantity.Duration(c.Fall), quantity.Duration(c.Drain))
	}
	for _, name := range st.Void {
		add("%s was calibrated with other plumbing: the file's figures stand until it is timed again.", bench(name))
	}
	for _, t := range st.Tests {
		switch {
		case t.Last.IsZero():
			add("%s: its switches were never proved on this wiring.", bench(t.Bench))
		case t.Overdue:
			add("%s: the proof test of its switches was due on %s; until it is done, holds may be shorter than the plan's.", bench(t.Bench), day(t.Due))
		default:
			add("%s: its switches were proved on %s; the next proof test is due by %s.", bench(t.Bench), day(t.Last), day(t.Due))
		}
	}
	if len(st.LeftOut) > 0 {
		var open []string
		for _, o := range st.LeftOut {
			open = append(open, o.Step+on(o.Bench, site.Titles))
		}
		add("Left out, and still to be done by \"benchtide commission --left-out\": %s.", strings.Join(open, "; "))
	}
	return lines
}

// Apply returns the site with the measured figures in place of the file's, and
// with the holds of benches cut whose HIGH is overdue for its test.
//
// HIGH is the one switch that no flood ever moves: FULL and EMPTY are proven
// with each flood. A HIGH that may be dead guards nothing, so the water has to
// stay below the rim by time alone, as on a bench without HIGH, where a run
// ends at most T_over after FULL. Half of that leaves a margin as large as the
// error a pump and a half-blocked drain may make.
func (st Verdict) Apply(site *config.Site) (*config.Site, error) {
	site, err := site.WithCalibration(st.Cycles)
	if err != nil {
		return nil, err
	}
	for i := range st.Tests {
		if most, cut := st.shortened(site, i); cut {
			site = site.WithHoldsUpTo(i, most)
		}
	}
	return site, nil
}

func (st Verdict) shortened(site *config.Site, i int) (time.Duration, bool) {
	l := site.Limits().Benches[i]
	most := l.Over / 2
	return most, l.High && st.Tests[i].Overdue && most < l.MaxHold
}
