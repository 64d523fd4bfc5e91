package config

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"benchtide/controller/quantity"
	"benchtide/safety"
	"benchtide/schedule"
)

// zoneHours is how far a zone's time lies from the sun's at most: western China
// and the zones of the date line are about three hours off (tz database, from
// memory).
const zoneHours = 3.5

// checkPlace compares where the site is with its time zone.
func (r *reader) checkPlace(s *Site) {
	if s.Location == nil || !r.sound("site") {
		return
	}
	january, july := offsets(s.Zone)
	off := math.Remainder(s.Location.Longitude/15-min(january, july), 24)
	if math.Abs(off) > zoneHours {
		r.warnf("site.longitude", "%s: the sun there is %.0f hours off the time of %s: put the longitude right, east positive, or name the zone of the place",
			strconv.FormatFloat(s.Location.Longitude, 'f', -1, 64), math.Abs(off), s.Zone)
	}
	if north := july > january; july != january && north != (s.Location.Latitude > 0) && math.Abs(s.Location.Latitude) > 15 {
		r.warnf("site.latitude", "%s: %s has its summer time when it is winter there: put the latitude right, north positive, or name the zone of the place",
			strconv.FormatFloat(s.Location.Latitude, 'f', -1, 64), s.Zone)
	}
}

// offsets are the hours of a zone ahead of UTC in winter and summer.
func offsets(zone *time.Location) (january, july float64) {
	for month, hours := range map[time.Month]*float64{time.January: &january, time.July: &july} {
		_, seconds := time.Date(2026, month, 1, 12, 0, 0, 0, zone).Zone()
		*hours = float64(seconds) / 3600
	}
	return january, july
}

var bareNumber = regexp.MustCompile(`^[0-9.]+$`)

// checkLineNames doubts names that no Raspberry Pi has. Another board may have
// them.
func (r *reader) checkLineNames(s *Site) {
	for _, w := range s.wires() {
		path := w.path + ".line"
		digits, pi := strings.CutPrefix(strings.ToUpper(w.line.Name), "GPIO")
		n, err := strconv.Atoi(digits)
		switch {
		case !r.sound(path):
		case pi && err == nil && n > 27:
			r.warnf(path, "%q: the header of a Raspberry Pi has GPIO0 to GPIO27: look whether this board has that line", w.line)
		}
	}
}

// Years in which a batch can have been planted.
const firstYear, lastYear = 2000, 2099

// checkDates refuses dates that are no one's, and warns of a batch that stands
// far too long.
func (r *reader) checkDates(s *Site) {
	for i := range s.Batches {
		b := &s.Batches[i]
		for _, d := range []struct {
			under string
			on    schedule.Date
		}{{".transplanted", b.Transplanted}, {".sown", b.Sown}, {".closed", b.Closed}} {
			if year := d.on.Year(); d.on != 0 && r.sound(batchPath(i, d.under)) && (year < firstYear || year > lastYear) {
				r.errorf(batchPath(i, d.under), "%s: the year cannot be right: write one from %d to %d", d.on, firstYear, lastYear)
			}
		}
		r.checkSown(i, b)
		if stood := int(b.Closed - b.Transplanted); b.Closed != 0 && stood > standsAtMost && r.sound(batchPath(i, "")) {
			r.warnf(batchPath(i, ".closed"), "%s: the batch would stand for %.1f years: look at the year", b.Closed, float64(stood)/365.25)
		}
	}
}

// seedlingAtMost is for how many days plants stand in a tray before they are
// transplanted, as a rule (common practice, no source).
const seedlingAtMost = 183

// checkSown holds the day of sowing to that of the transplant.
func (r *reader) checkSown(i int, b *Batch) {
	path, before := batchPath(i, ".sown"), int(b.Transplanted-b.Sown)
	switch {
	case b.Sown == 0 || !r.sound(path, batchPath(i, ".transplanted")):
	case before < 0:
		r.errorf(path, "%s: that is after the batch was transplanted on %s, and plants are sown first: look at both days, and at their years", b.Sown, b.Transplanted)
	case before > seedlingAtMost:
		r.warnf(path, "%s: that is %.1f years before the batch was transplanted on %s: look at the year", b.Sown, float64(before)/365.25, b.Transplanted)
	}
}

// For how many days a batch stands on a bench at most, from its first day to its
// last; how long ago one that still stands came, after a year of which its date is
// worth a look; and how far ahead one is planned (common practice, no source).
const (
	standsAtMost  = 731
	agoAtMost     = 366
	plannedAtMost = 270
)

// checkToday warns of batches that stand oddly beside the day of the check: those
// of years ago that nobody has closed, and those of a far future. A clock that
// is wrong itself says nothing.
func (r *reader) checkToday(s *Site, today schedule.Date) {
	if today.Year() < firstYear || today.Year() > lastYear {
		return
	}
	for i := range s.Batches {
		b := &s.Batches[i]
		age, began := int(today-b.Transplanted), batchPath(i, "."+b.Began())
		switch {
		case !r.sound(batchPath(i, "")):
		case age > agoAtMost && b.Closed == 0:
			r.warnf(began, "%s: that is %.1f years ago and the batch still stands: give it the day on which it closed, or look at the year", b.Transplanted, float64(age)/365.25)
		case age < -plannedAtMost:
			r.warnf(began, "%s: that is %.1f years from now: look at the year", b.Transplanted, -float64(age)/365.25)
		}
	}
}

// manyFloods is how many floods a day ask for a second look.
const manyFloods = 12

// checkPlan doubts plans that leave days out or flood all day long.
func (r *reader) checkPlan(s *Site, i int) {
	p := &s.Plans[i]
	if len(p.Stages) == 0 || !r.sound("plans."+p.Name) {
		return
	}
	if first := p.Stages[0].FromDay; first > 0 {
		r.warnf(stagePath(p.Name, 0, ".from_day"), "%d: the plan says nothing of the days before, so nothing floods then and nobody is told: begin with from_day: 0", first)
	}
	for j := range p.Stages {
		if n := s.busiest[i][j]; n > manyFloods && n <= safety.StartsPerDay {
			r.oddf(stagePath(p.Name, j, ""), "%d floods on one day: more than %d is unusual for pots, whose roots need air between them", n, manyFloods)
		}
	}
}

// sparse is the share of a table below which its pots are worth a second look.
const sparse = 0.03

// checkCrowd doubts a number of pots that leaves the bench all but empty.
func (r *reader) checkCrowd(s *Site, i int) {
	b := &s.Batches[i]
	if !b.Pots.Known() || b.Bench < 0 || !r.sound(batchPath(i, ""), s.Benches[b.Bench].path(".table")) {
		return
	}
	table := s.Benches[b.Bench].Table
	cover := float64(b.Pots.Count) * math.Pi / 4 * float64(b.Pots.Top*b.Pots.Top) / float64(table.Length*table.Width)
	if cover < sparse {
		r.oddf(batchPath(i, ".pots"), "%d: pots of %s cover %s of the table of %s: look at their number, their size and the table",
			b.Pots.Count, r.units.Mark(b.Pots.Top), quantity.In(quantity.Fraction(math.Round(cover*1000)/1000), quantity.Percent), s.listed(b.Bench))
	}
}
