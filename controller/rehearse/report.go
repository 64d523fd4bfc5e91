package rehearse

import (
	"math"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/safety"
	"benchtide/schedule"
)

// Report is what came of a rehearsal. Times are local, RFC 3339 with their
// offset; they are true times but for those of the ledger, which are what the
// program's clock said. Figures of water and pumps are what really happened.
type Report struct {
	From    string         `json:"from"`
	Days    int            `json:"days"`
	Seed    uint64         `json:"seed"`
	Weather string         `json:"weather"`
	Units   quantity.Units `json:"units,omitempty"`  // in which people read it; figures here are metric
	Nature  string         `json:"nature,omitempty"` // what the site drew its own figures from; empty for the plain bench

	// NotTimed are benches that nature made so that commissioning would refuse them:
	// the pump does not reach FULL, or the tank is too small. They go by their file.
	NotTimed []string `json:"not_timed,omitempty"`

	Titles texts.Titles `json:"titles,omitzero"` // what people call the things that are named here

	Floods   map[controller.Outcome]int `json:"floods"` // every outcome, also at 0
	Ledger   []controller.Row           `json:"ledger"` // in the order in which they were first heard of
	Trips    []Trip                     `json:"trips"`
	Messages []Message                  `json:"messages"`
	Acts     []Answer                   `json:"acts"`

	ToppedUpL           float64            `json:"topped_up_l"`
	SpilledL            float64            `json:"spilled_l"`
	DryPumpS            float64            `json:"dry_pump_s"`
	PeakDepthMM         float64            `json:"peak_depth_mm"` // of the deepest table
	PumpS               map[string]float64 `json:"pump_s"`        // by output
	LongestGapH         map[string]float64 `json:"longest_gap_h"` // by batch, between floods that counted
	LowestWaterFraction map[string]float64 `json:"lowest_water_fraction"`
	ReservoirMinL       float64            `json:"reservoir_min_l"` // of the lowest reservoir
	WaterErrorL         float64            `json:"water_error_l"`

	BrokenInvariants []string `json:"broken_invariants"`

	Crops map[string]CropEnd `json:"-"` // by batch, where Options asked for it

	Slow []Slow       `json:"-"` // for pictures; the messages tell of it
	days func() []day // for people
}

// Trip is an interlock that acted: it stopped or refused a run, or found
// something wrong.
type Trip struct {
	At        string           `json:"at"`
	Bench     string           `json:"bench"` // empty for the site
	Interlock safety.Interlock `json:"interlock"`
	Latched   bool             `json:"latched"` // then or later
	Detail    string           `json:"detail"`
}

// Message is what a person was told.
type Message struct {
	At      string             `json:"at"`
	Urgency controller.Urgency `json:"urgency"`
	Text    string             `json:"text"`
}

// Answer is what a person did and what the program said to it.
type Answer struct {
	At     string `json:"at"`
	Do     string `json:"do"`
	Where  string `json:"where"`
	Answer string `json:"answer"`
}

// report makes up the books.
func (r *rehearsal) report() *Report {
	rep := &Report{
		Titles: r.site.Titles,
		From:   r.scenario.From.String(), Days: r.scenario.Days, Seed: r.scenario.Seed, Weather: r.scenario.Weather, Units: r.site.Units,
		Trips: nonNil(r.diary.trips), Messages: nonNil(r.diary.messages), Acts: nonNil(r.diary.answers),
		BrokenInvariants: nonNil(r.checker.finish(r.diary.floods, r.world.Truth())),
	}
	if n := r.scenario.Nature; n != nil && len(n.Rows) > 0 {
		rep.Nature = n.Name
	}
	r.rows(rep)
	r.water(rep)
	if r.options.Crops {
		rep.Crops = r.cropEnds()
	}
	rep.Slow, rep.days = r.diary.slow, r.byDay
	return rep
}

// rows lists the floods that were due before the end.
func (r *rehearsal) rows(rep *Report) {
	rep.Floods = map[controller.Outcome]int{}
	for _, o := range controller.Outcomes {
		rep.Floods[o] = 0
	}
	rep.Ledger = make([]controller.Row, 0, len(r.diary.floods))
	for f := range r.within {
		if !r.options.NoRows {
			rep.Ledger = append(rep.Ledger, controller.RowOf(*f, r.diary.benches, r.site.Zone))
		}
		if !f.Open() {
			rep.Floods[f.Outcome]++
		}
	}
}

// within yields the floods that were due before the end.
func (r *rehearsal) within(yield func(*controller.Flood) bool) {
	_, to, _, end := r.scenario.span(r.site.Zone)
	for i := range r.diary.floods {
		f := &r.diary.floods[i]
		if (f.HasSlot && f.Slot < to || !f.HasSlot && f.Due.Before(end)) && !yield(f) {
			return
		}
	}
}

func (r *rehearsal) water(rep *Report) {
	truth := r.world.Truth()
	rep.SpilledL, rep.ToppedUpL = rounded(truth.Totals.Spilled, 3), rounded(truth.Totals.ToppedUp, 1)
	rep.DryPumpS, rep.WaterErrorL = rounded(truth.DryRun.Seconds(), 1), truth.Error
	rep.PumpS, rep.LongestGapH, rep.LowestWaterFraction = map[string]float64{}, map[string]float64{}, map[string]float64{}
	for _, b := range truth.Benches {
		rep.PeakDepthMM = max(rep.PeakDepthMM, rounded(b.Peak*1000, 1))
	}
	rep.ReservoirMinL = math.Inf(1)
	for _, t := range truth.Reservoirs {
		rep.ReservoirMinL = min(rep.ReservoirMinL, rounded(t.Min, 1))
	}
	for i, o := range truth.Outputs {
		if kind := r.setup.Limits.Outputs[i].Kind; kind == safety.FloodPump || kind == safety.Stirrer {
			rep.PumpS[o.Name] = rounded(o.Run.Seconds(), 1)
		}
	}
	for _, b := range truth.Batches {
		if b.Lowest > 0 || b.OnTable {
			rep.LowestWaterFraction[b.Name] = rounded(b.Lowest, 3)
		}
	}
	for i, b := range r.site.Batches {
		if gap, ok := r.diary.longestGap(i, r.end); ok {
			rep.LongestGapH[b.Name] = rounded(gap.Hours(), 2)
		}
	}
}

// day is one date of one bench: what it was to do and what became of it.
type day struct {
	date   schedule.Date
	bench  string
	rule   schedule.Planned
	open   bool // a batch stands there
	begins bool // the rule differs from the day before
	floods []controller.Flood
}

func (r *rehearsal) byDay() (days []day) {
	for n := range r.scenario.Days {
		for b, name := range r.diary.benches {
			d := day{date: r.scenario.From.AddDays(n), bench: name}
			d.rule, d.open = r.setup.Calendar.Governs(b, d.date)
			before, was := r.setup.Calendar.Governs(b, d.date.AddDays(-1))
			d.begins = d.open && (n == 0 || !was || rhythm(before) != rhythm(d.rule))
			days = append(days, d)
		}
	}
	for f := range r.within {
		date := schedule.CivilIn(f.Due, r.site.Zone).Date()
		if f.HasSlot {
			date = f.Slot.Date()
		}
		if n := int(date - r.scenario.From); n >= 0 && n < r.scenario.Days {
			d := &days[n*len(r.diary.benches)+f.Bench]
			d.floods = append(d.floods, *f)
		}
	}
	return days
}

// rhythm is what makes one day's rule differ from another's.
func rhythm(p schedule.Planned) schedule.Planned {
	return schedule.Planned{Batch: p.Batch, Stage: p.Stage, Hold: p.Hold, Strength: p.Strength}
}

func nonNil[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func rounded(x float64, n int) float64 {
	p := math.Pow10(n)
	return math.Round(x*p) / p
}

// Fine reports whether no invariant was broken.
func (r *Report) Fine() bool { return len(r.BrokenInvariants) == 0 }
