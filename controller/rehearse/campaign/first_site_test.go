package campaign

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"

	"benchtide/controller/config"
	"benchtide/schedule"
)

// newcomer is a site on its first day: as somebody built it, and its file with the
// errors of a rule.
type newcomer struct {
	built, file *config.Site
	day         schedule.Date
	said        []string // the check's warnings
	draft       *draft   // as built
}

// drawNewcomer draws a site as people build them before anybody looks at it; false
// where the check refuses its file. What was built is measured by people, so that it
// differs from the file as the file from it; of those that could not be simulated, as
// the water would not reach FULL whatever nature draws, another one is built.
func drawNewcomer(r *rand.Rand) (n *newcomer, ok bool) {
	f := drawDraft(r, pick(r, 1, 1, 2))
	n = &newcomer{day: firstDay.AddDays(r.IntN(300))}
	f.plant(r, n.day)
	f.broaden(r)
	f.stock()
	f.fitTanks(r)
	text := onFreeLines(f.text())
	if chance(r, 0.3) {
		text = inUSUnits(text)
	}
	file, problems := config.Parse("bench.yaml", []byte(text))
	if file == nil {
		return n, false
	}
	for _, p := range problems.Warnings() {
		n.said = append(n.said, p.Text)
	}
	n.file = file
	for range misreadings {
		n.draft = f.misread(r)
		if built, err := parse(n.draft.text()); err == nil {
			n.built = built
			return n, true
		}
	}
	return n, false
}

// plant gives each bench one batch, which comes on a day.
func (d *draft) plant(r *rand.Rand, day schedule.Date) {
	d.batches = slices.DeleteFunc(d.batches, func(b draftBatch) bool { return b.number > 1 })
	for i := range d.batches {
		d.batches[i].from, d.batches[i].to = day.String(), day.AddDays(60).String()
	}
}

// free are lines of a Raspberry Pi that serve nothing else.
var free = []int{16, 17, 22, 23, 24, 25, 26, 27, 12, 13, 18, 19, 20, 21, 5, 6}

// onFreeLines is a file whose lines are those that somebody looked up.
func onFreeLines(text string) string {
	return regexp.MustCompile(`GPIO(\d+)`).ReplaceAllStringFunc(text, func(s string) string {
		n, _ := strconv.Atoi(s[len("GPIO"):])
		if n -= 9; n < len(free) {
			n = free[n]
		}
		return "GPIO" + strconv.Itoa(n)
	})
}

// broaden makes the benches of a draft as different as those that people build: pumps
// that barely lift, low standpipes, pots that suit their flood or do not.
func (d *draft) broaden(r *rand.Rand) {
	for i := range d.benches {
		b := &d.benches[i]
		if set := r.Float64(); set < 0.8 {
			b.full, b.high = true, true
		}
		if chance(r, 0.3) {
			b.crest = between(r, 12, 25)
			b.rim = b.crest + between(r, 15, 50)
		}
		if chance(r, 0.4) {
			b.head = b.lift + b.crest/1000 + between(r, 0.02, 0.5)
		}
		if chance(r, 0.3) {
			b.flow *= between(r, 0.4, 2)
		}
		if chance(r, 0.5) { // somebody looked up what gulps
			b.bore = pick(r, 50.0, 63, 75, 90)
		}
		for k := range d.batches {
			if p := &d.batches[k]; p.bench == i+1 && chance(r, 0.85) {
				height := b.crest / 10 * between(r, 2.1, 4) // cm
				p.volume = height * p.top * p.top * 0.57 / 1000
			}
		}
	}
	if chance(r, 0.7) && d.enables == 0 {
		d.enables = 1
	}
}

// fitTanks gives the reservoirs of a draft their shape, and some no more than a flood.
func (d *draft) fitTanks(r *rand.Rand) {
	for k := range d.tanks {
		t := &d.tanks[k]
		t.hasLow = t.low > 0 || chance(r, 0.8)
		if t.hasLow && t.low == 0 {
			t.low = (t.usable + t.keep) / 2
		}
		if chance(r, 0.3) {
			t.usable = max(t.low, t.keep) + (t.usable-max(t.low, t.keep))*between(r, 0.15, 0.6)
			t.level = 0
		}
		if chance(r, 0.6) {
			deep := between(r, 0.25, 0.6) // m
			long := between(r, 0.5, 1.5)
			t.inside = fmt.Sprintf("{length: %.2f m, width: %.2f m}", long, t.usable/1000/deep/long)
		}
	}
}

var measured = regexp.MustCompile(`(\d+(?:\.\d+)?) (mm|cm|m|L/h|L)\b([^/2]|$)`)

// inUSUnits is a file as somebody writes it with a rule in inches and a jug in gallons.
func inUSUnits(text string) string {
	units := map[string]struct {
		per    float64
		digits int
		name   string
	}{"mm": {25.4, 2, "in"}, "cm": {2.54, 1, "in"}, "m": {0.3048, 2, "ft"}, "L/h": {3.785411784, 0, "gal/h"}, "L": {3.785411784, 2, "gal"}}
	text = measured.ReplaceAllStringFunc(text, func(s string) string {
		m := measured.FindStringSubmatch(s)
		x, _ := strconv.ParseFloat(m[1], 64)
		u := units[m[2]]
		return strconv.FormatFloat(x/u.per, 'f', u.digits, 64) + " " + u.name + m[3]
	})
	return regexp.MustCompile(`site: \{`).ReplaceAllString(text, "site: {units: us, ")
}
