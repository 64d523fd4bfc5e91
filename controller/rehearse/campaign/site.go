package campaign

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// DrawnSite is a random site, as a file and as it was read.
type DrawnSite struct {
	Text  string
	Site  *config.Site
	draft *draft
	pipes rehearse.Pipes
	draws rehearse.Draws
}

// year is the one that every campaign lives through.
const year = 2026

// drafts is how many sites may be drawn before one holds together. A draw may
// ask of a pump what it cannot lift, or crowd a table; the check of the file
// finds that.
const drafts = 1000

// drawSite draws a site of so many benches that the check of its file passes
// and that works while nothing is wrong.
func drawSite(ctx context.Context, r *rand.Rand, benches int) (*DrawnSite, error) {
	var err error
	for range drafts {
		d := drawDraft(r, benches)
		d.stock()
		var site *config.Site
		if site, err = parse(d.text()); err == nil && d.lean {
			d.tighten(site)
			site, err = parse(d.text())
		}
		if err != nil {
			continue
		}
		p := &DrawnSite{Text: d.text(), Site: site, draft: d, pipes: rehearse.Pipes{}}
		if err = p.works(ctx); err == nil {
			return p, nil
		}
		if ctx.Err() != nil {
			return nil, err
		}
	}
	return nil, fmt.Errorf("draw a site: none of %d held together, the last one because %w", drafts, err)
}

// calm is how many days from the first of each month a site is looked at.
const calm = 2

// works finds out whether nothing latches, and the water of every table rises
// and falls well inside its windows, while nothing is wrong. On one site in
// hundreds it really does so half as slowly again as the sheet computes: there
// commissioning times it and the file carries what it found, without which no
// flood would run unattended, or only until the reservoir stands a little higher.
// Such a site is not lived on.
func (p *DrawnSite) works(ctx context.Context) error {
	benches := rehearse.Drift(p.Site)
	var narrow error
	each := func(m rehearse.Observation) {
		for i := range m.Turn.Events {
			if e := &m.Turn.Events[i]; e.Kind == controller.FloodEnded && narrow == nil {
				narrow = p.misses(&e.Flood)
				if narrow == nil {
					narrow = tight(benches[e.Bench].Windows, &e.Flood)
				}
			}
		}
	}
	for m := range months {
		report, err := rehearse.Run(ctx, p.Site, rehearse.Plain(monthFrom(m), calm, 1), rehearse.Options{Each: each, Pipes: p.pipes, Draws: &p.draws, NoRows: true, NoDrift: true})
		if err != nil {
			return err
		}
		for _, t := range report.Trips {
			if t.Latched || t.Interlock == safety.FillWindow {
				return fmt.Errorf("%s trips without a fault: %s", t.Bench, t.Detail)
			}
		}
		if narrow != nil {
			return narrow
		}
	}
	return nil
}

// misses says what a flood lacks for a site to be lived on: it does not count,
// or its hold was cut though FULL was there to spare it that. Where nothing
// shows that water comes back the guard's own rule may end a hold, and the site
// is lived on, but for one where that comes so soon that a flood only just counts.
func (p *DrawnSite) misses(f *controller.Flood) error {
	b := &p.Site.Benches[f.Bench]
	switch {
	case !f.Counted:
		return fmt.Errorf("a flood of %s does not count without a fault: %s", b.Name, f.Reason)
	case b.Full == nil && f.Run < p.Site.Sheet(f.Bench).Fill+f.Hold*6/10:
		return fmt.Errorf("a flood of %s only just counts without a fault: %s", b.Name, f.Reason)
	case b.Full != nil && f.Outcome != controller.Proven:
		return fmt.Errorf("a flood of %s is %s without a fault: %s", b.Name, f.Outcome, f.Reason)
	}
	return nil
}

// tight returns how near to the end of a window of the guard a flood came, nil
// when it left enough to spare.
func tight(w drift.Windows, f *controller.Flood) error {
	e := w.Edge(drift.Flood{Fill: f.Fill, Fall: f.Fall, Drain: f.Ended.Sub(f.Started) - f.Run})
	if e == nil {
		return nil
	}
	return errors.New(e.String())
}

func parse(text string) (*config.Site, error) {
	site, problems := config.Parse("bench.yaml", []byte(text))
	return site, problems.Err()
}

// draft is a site before its file is written. Numbers are in the units that the
// file gets.
type draft struct {
	place, floor string
	climate      string // of its house; empty for the one that a file without it has
	tanks        []draftTank
	benches      []draftBench
	enables      int // 0 for none, 1 for one that all pumps share, otherwise one for each bench
	stirred      bool
	air, button  bool
	lean         bool    // reservoirs hold little more than one flood
	slack        float64 // of what the plants use in the hottest day, in a lean reservoir beside that flood
	buzzer       bool
	plans        []string
	batches      []draftBatch
}

type draftBatch struct {
	bench, number, plan int
	from, to            string // transplanted and closed
	pots                int
	top, volume         float64 // cm, L
	substrate           string
}

// line is its line of the file.
func (b draftBatch) line() string {
	return fmt.Sprintf("  - {name: b%d_%d, plan: plan%d, bench: bench%d, transplanted: %s, closed: %s, pots: %d, pot: {top: %.1f cm, volume: %.2f L}, substrate: %s}",
		b.bench, b.number, b.plan, b.bench, b.from, b.to, b.pots, b.top, b.volume, b.substrate)
}

type draftTank struct {
	usable, keep, low float64 // L; low 0 without a switch
	level             float64 // L; 0 without a float that weighs
	spare             float64 // days that a grower may stay away
	hasLow, warm      bool
	inside            string // its plan; empty where nobody measured it
}

type draftBench struct {
	tank                         int
	length, width                float64 // m
	crest, rim, bore             float64 // mm
	full, high, empty, leak      bool
	highShare                    float64 // of the way from crest to rim
	pipe, hose, lift, head, flow float64 // mm, m, m, m, L/h
	throughPump, open            bool
	drainBore, drainLength       float64 // mm, m
}

func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

func pick[T any](r *rand.Rand, from ...T) T { return from[r.IntN(len(from))] }

func drawDraft(r *rand.Rand, benches int) *draft {
	d := &draft{
		place: pick(r, "timezone: Europe/Dublin, latitude: 53, longitude: -7", "timezone: America/New_York, latitude: 41, longitude: -74",
			"timezone: Australia/Lord_Howe, latitude: -32, longitude: 159", "timezone: Asia/Kathmandu, latitude: 28, longitude: 85", "timezone: UTC, latitude: 45, longitude: 0"),
		floor:   pick(r, "drained", "dry-room"),
		lean:    chance(r, 0.25+0.35*float64(min(benches-1, 1))),
		slack:   between(r, 0.3, 1),
		stirred: chance(r, 0.4), air: chance(r, 0.5), button: chance(r, 0.3), buzzer: chance(r, 0.2),
	}
	d.tanks = append(d.tanks, drawTank(r))
	if chance(r, 0.15) {
		d.tanks = append(d.tanks, drawTank(r))
	}
	alike := chance(r, 0.5) // as the tables of a house often are
	for i := range benches {
		b := drawBench(r, i%len(d.tanks))
		if alike && i > 0 {
			b.length, b.width = d.benches[0].length, d.benches[0].width
		}
		d.benches = append(d.benches, b)
	}
	d.tanks = d.tanks[:min(len(d.tanks), len(d.benches))]
	if d.lean && len(d.benches) > len(d.tanks) && chance(r, 0.5) { // nothing but the count of what stands on tables says what is left
		for k := range d.tanks {
			d.tanks[k].hasLow = false
		}
	}
	switch {
	case chance(r, 0.15):
	case chance(r, 0.75):
		d.enables = 1
	default:
		d.enables = len(d.benches)
	}
	d.drawPlants(r)
	return d
}

func drawTank(r *rand.Rand) draftTank {
	return draftTank{keep: between(r, 5, 30), spare: between(r, 1.2, 5), hasLow: chance(r, 0.7), warm: chance(r, 0.3)}
}

func drawBench(r *rand.Rand, tank int) draftBench {
	b := draftBench{
		tank: tank, length: between(r, 0.8, 3), width: between(r, 0.5, 1.4),
		crest: between(r, 20, 50), bore: pick(r, 32.0, 40, 50, 63),
		highShare: between(r, 0.4, 0.8),
		pipe:      pick(r, 13.0, 16, 19, 25), hose: between(r, 1, 5), lift: between(r, 0.3, 1.1),
		throughPump: chance(r, 0.6), open: chance(r, 0.2),
		drainBore: pick(r, 16.0, 20, 25, 32), drainLength: between(r, 0.3, 1.2),
		leak: chance(r, 0.3),
	}
	b.rim = b.crest + between(r, 25, 60)
	b.head = b.lift + between(r, 0.7, 2)
	b.flow = between(r, 1.5, 3) * b.length * b.width * b.crest * 60 / between(r, 3, 12) // to fill in so many minutes
	switch set := r.Float64(); {
	case set < 0.08:
	case set < 0.22:
		b.full = true
	case set < 0.28:
		b.high = true
	default:
		b.full, b.high = true, true
	}
	b.empty = b.full && chance(r, 0.3)
	return b
}

// drawPlants gives each bench batches one after the other for the whole year,
// some of them side by side with the next.
func (d *draft) drawPlants(r *rand.Rand) {
	for n := range pick(r, 1, 2) {
		d.plans = append(d.plans, fmt.Sprintf("  plan%d:\n%s", n+1, drawStages(r)))
	}
	for i, b := range d.benches {
		top := between(r, 6, 13)
		pots := int(between(r, 0.2, 0.6) * b.length * b.width / (top * top / 1e4))
		day := -r.IntN(40)
		for n := 1; day < 366; n++ {
			life := 40 + r.IntN(80)
			together := 0
			count := max(pots, 1)
			if chance(r, 0.2) {
				together, count = 10, max(pots/2, 1)
			}
			d.batches = append(d.batches, draftBatch{
				bench: i + 1, number: n, plan: 1 + r.IntN(len(d.plans)), from: dateOf(day), to: dateOf(day + life + together),
				pots: max(1, count/2), top: top, volume: between(r, 0.03, 0.06) * top, substrate: pick(r, "peat", "coir", "bark", "rockwool"),
			})
			day += life + 1
		}
	}
}

func dateOf(day int) string { return firstDay.AddDays(day).String() }

func drawStages(r *rand.Rand) string {
	hold := func() int { return 2 + r.IntN(7) }
	first := fmt.Sprintf("    - {from_day: 0, flood_at: [\"%02d:%02d\"], hold: %d min, strength: 25 %%, can_wait: %d h}\n", 7+r.IntN(10), 5*r.IntN(12), hold(), 36+r.IntN(24))
	var rest string
	switch r.IntN(4) {
	case 0:
		rest = fmt.Sprintf("    - {from_day: %d, flood_at: [\"08:30\", \"15:00\"], hold: %d min, strength: 50 %%, can_wait: %d h}\n", 5+r.IntN(20), hold(), 24+r.IntN(16))
	case 1:
		rest = fmt.Sprintf("    - {from_day: %d, cron: \"%d 8-17/3 * * *\", hold: %d min, strength: 100 %%, can_wait: %d h}\n", 5+r.IntN(20), r.IntN(60), hold(), 20+r.IntN(12))
	case 2:
		rest = fmt.Sprintf("    - {from_day: %d, floods: %d, hold: %d min, strength: 80 %%, can_wait: %d h}\n", 5+r.IntN(20), 2+r.IntN(3), hold(), 24+r.IntN(12))
	}
	return first + rest
}

// thirst is what plants may use on the hottest day, of their bench's area, L/m².
// Peak use under glass is 12 to 16 L/m² a day (UMass Extension, sizing the
// greenhouse water system).
const thirst = 16

// stock gives the reservoirs what the floods of the site take, by a bare table
// and thirsty pots, and what the plants use until the grower comes.
func (d *draft) stock() {
	for k := range d.tanks {
		t := &d.tanks[k]
		flood, use, fill := 0.0, 0.0, math.Inf(1)
		for _, b := range d.benches {
			if b.tank == k {
				area := b.length * b.width
				flood = max(flood, area*(b.crest+deepest)+area*drunk)
				use += area * thirst
				fill = min(fill, area*b.crest*leastFree)
			}
		}
		t.usable = 1.2*flood + 1.05*t.keep + use*t.spare
		if t.hasLow {
			t.low = 1.15*flood + t.keep
		}
		if t.spare > weighs {
			t.level = t.usable - 0.7*fill
		}
	}
}

// tighten leaves each reservoir no more than the largest flood of the bench sheets
// and some of what the plants use in the hottest day: less than a second flood, so
// that what one bench keeps, or is wrongly taken to keep, the others miss.
func (d *draft) tighten(site *config.Site) {
	for k := range d.tanks {
		t := &d.tanks[k]
		flood, use := 0.0, 0.0
		for i, b := range d.benches {
			if b.tank == k {
				flood = max(flood, float64(site.Sheet(i).VFlood))
				use += b.length * b.width * thirst
			}
		}
		t.usable, t.level = 1.2*flood+t.keep+use*d.slack, 0
		if t.hasLow {
			t.low = 1.15*flood + t.keep
		}
	}
}

// What the check of the file may add to a table filled to its crest: the head
// over the crest, in mm, and what pots take up, in L/m².
const (
	deepest = 15
	drunk   = 20
)

// A table with pots on it takes this share at least of what it takes without; a
// grower who stays away for so many days has a float that weighs.
const (
	leastFree = 0.6
	weighs    = 3
)
