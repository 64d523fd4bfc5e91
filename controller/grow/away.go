package grow

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller/quantity"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Mark is how one item of a check stands.
type Mark int

// The marks.
const (
	Fine   Mark = iota
	Wrong       // something has to be done first
	Asked       // only a person can tell, and has not
	Unread      // the record that would tell is not at hand
)

func (m Mark) String() string { return [...]string{"fine", "wrong", "asked", "unread"}[m] }

// Item is one item of the check, with its reason.
type Item struct {
	Name   string
	Mark   Mark
	Reason string
}

// Away is an absence and all that is known of the site before it.
type Away struct {
	Site       *Site
	Benches    []AwayBench
	Reservoirs []AwayReservoir
	Zone       *time.Location
	From       schedule.Date
	Until      schedule.Date // the day of return
	Record     *Record       // nil when it cannot be read
	Rehearsed  Rehearsed     // the days away in the hottest weather, with nobody there
	Confirmed  []string      // what a person has seen to, by the keys of ByHand
}

// AwayBench is a bench as its sheet has it.
type AwayBench struct {
	Name       string
	Reservoir  int
	Fill, Fall time.Duration
	High       bool // fitted
}

// AwayReservoir is a reservoir; Reserve is what one flood takes with what is
// never drawn.
type AwayReservoir struct {
	Name            string
	Usable, Reserve demand.Litres
	Low             bool // a low switch is fitted
}

// Record is what was recorded of a site.
type Record struct {
	Now       time.Time
	Floods    []Flood // with an outcome, oldest first
	Proofs    []Proof
	Diary     map[string][]Entry // by place; "" for the site
	Held      []string           // pauses, hands-in and latched trips, in words
	Untrusted bool               // wall time is not trusted
	Litres    []demand.Litres    // by reservoir, as far as switches and floods tell
}

// Flood is one flood of the record. A time of 0 was not measured.
type Flood struct {
	Bench      int
	Due        time.Time
	Proven     bool
	Outcome    string
	Fill, Fall time.Duration
}

// Proof is a test of a switch such as north.high.
type Proof struct {
	Switch string
	At     time.Time
}

// Rehearsed is what a rehearsal of the days away came to.
type Rehearsed struct {
	Spilled demand.Litres
	Broken  []string  // invariants
	Lowest  []float64 // by batch: share of what a pot holds; above 1 where it did not stand
}

// ByHand are the items that no record can tell, by the key with which a person
// confirms them.
var ByHand = []struct{ Key, Name string }{
	{"rcd", "Residual-current device tested within 30 days"},
	{"messages", "A test message was answered by both phones"},
	{"heartbeat", "The outside watcher has seen the controller today"},
	{"water-closed", "Taps and hoses that could run without end are closed"},
	{"spare", "A spare pump lies ready, and the neighbour has the sheet"},
	{"watched", "One whole flood was watched today"},
}

// Check goes through the going-away check.
func (a *Away) Check() []Item {
	items := []Item{a.water(), a.needs(), a.rehearsed(), a.stages(), a.clock()}
	if a.Record == nil {
		for _, name := range recorded {
			items = append(items, Item{name, Unread, "no daemon answered, so its record could not be read"})
		}
	} else {
		items = append(items, a.used(), a.proven(), a.baseline(), a.proofs(), a.cleaned(), a.solutions(), a.held())
	}
	for _, h := range ByHand {
		item := Item{h.Name, Fine, "confirmed"}
		if !slices.Contains(a.Confirmed, h.Key) {
			item.Mark, item.Reason = Asked, "see to it, then confirm "+h.Key
		}
		items = append(items, item)
	}
	return items
}

// recorded are the items that the record tells.
var recorded = [...]string{
	"The last floods are proven", "Fill and fall times as they were", "Switches tested within 30 days",
	"Screen and standpipe cleaned within 3 days", "Solution good until the return", "Nothing is held, paused or latched",
}

// judged is fine without reasons against it.
func judged(name, fine string, wrong []string) Item {
	if len(wrong) > 0 {
		return Item{name, Wrong, strings.Join(wrong, "; ")}
	}
	return Item{name, Fine, fine}
}

// water holds each reservoir against what plants use in the hottest weather.
func (a *Away) water() Item {
	var wrong, fine []string
	for r, res := range a.Reservoirs {
		has := res.Usable
		if a.Record != nil && !a.filled(r) {
			has = a.Record.Litres[r]
		}
		used, err := a.uses(r)
		if err != nil {
			wrong = append(wrong, err.Error())
			continue
		}
		text := fmt.Sprintf("%s: %.0f L used on hottest days, a fifth to spare included, of %.0f L that can go before it cannot flood", res.Name, used, max(0, has-res.Reserve))
		if used > has-res.Reserve {
			wrong = append(wrong, text+fmt.Sprintf("; filled to the mark, and that written down, it has %.0f L", max(0, res.Usable-res.Reserve)))
		} else {
			fine = append(fine, text)
		}
	}
	return judged("Water for the days away", strings.Join(fine, "; "), wrong)
}

// used holds the top-ups of the diary against what is worked out.
func (a *Away) used() Item {
	var wrong, fine []string
	for r, res := range a.Reservoirs {
		use, err := a.learn(r)
		switch {
		case err != nil:
			wrong = append(wrong, err.Error())
		case use.Wrong:
			wrong = append(wrong, res.Name+": "+use.Words)
		default:
			fine = append(fine, res.Name+": "+use.Words)
		}
	}
	return judged("Water goes no faster than plants use it", strings.Join(fine, "; "), wrong)
}

func (a *Away) learn(reservoir int) (Use, error) {
	if a.Record == nil {
		return Use{Scale: 1}, nil
	}
	var on []int
	for i, b := range a.Site.Batches {
		if a.Benches[b.Bench].Reservoir == reservoir {
			on = append(on, i)
		}
	}
	return a.Site.Learn(on, a.Record.Diary[a.Reservoirs[reservoir].Name], a.Zone)
}

// filled says whether the reservoir was topped up or changed within a day.
func (a *Away) filled(r int) bool {
	for _, e := range inOrder(a.Record.Diary[a.Reservoirs[r].Name], TopUp, SolutionChange) {
		if a.Record.Now.Sub(e.At) < day {
			return true
		}
	}
	return false
}

// uses is what the batches on a reservoir use on hottest days until the return,
// and no less where their diary shows more.
func (a *Away) uses(reservoir int) (litres demand.Litres, err error) {
	for i := range a.Site.Batches {
		b := &a.Site.Batches[i]
		if a.Benches[b.Bench].Reservoir != reservoir {
			continue
		}
		for d := max(a.From, b.Transplanted); d < a.Until && (b.Closed == 0 || d <= b.Closed); d++ {
			n, err := a.Site.needs(b, d, Hottest)
			if err != nil {
				return 0, err
			}
			litres += spare * n.Litres
		}
	}
	use, err := a.learn(reservoir)
	return litres * demand.Litres(max(1, use.Scale)), err
}

// needs is whether what is planned suffices.
func (a *Away) needs() Item {
	var wrong []string
	for i := range a.Site.Batches {
		advice, err := a.Site.Advise(i, a.From, int(a.Until-a.From))
		if err != nil {
			wrong = append(wrong, err.Error())
		}
		for _, v := range advice {
			if v.Verdict != Fits && v.Verdict != Often {
				wrong = append(wrong, a.Site.Batches[i].Name+": "+v.Words)
			}
		}
	}
	return judged("Floods enough for hot days", "every batch gets what it needs on the hottest days", wrong)
}

func (a *Away) rehearsed() Item {
	wrong := slices.Clone(a.Rehearsed.Broken)
	if s := a.Rehearsed.Spilled; s > 0.05 {
		wrong = append(wrong, fmt.Sprintf("%.1f L spilled", s))
	}
	for i, lowest := range a.Rehearsed.Lowest {
		pot := a.Site.Batches[i].Demand.Pot
		if limit := float64(pot.Threshold() / pot.Holds()); lowest < limit {
			wrong = append(wrong, fmt.Sprintf("%s falls to %.0f %% of what its pots hold, below its %.0f %%", a.Site.Batches[i].Name, 100*lowest, 100*limit))
		}
	}
	return judged("Rehearsal of the days away, hot, with nobody there", "no batch falls below its limit, nothing spills", wrong)
}

// stages asks for a person where a stage wants another strength: floods change
// by themselves, the solution does not.
func (a *Away) stages() Item {
	var wrong, remarks []string
	for i := range a.Site.Batches {
		b := &a.Site.Batches[i]
		plan := a.Site.Plans[b.Plan]
		now, begun := b.StageOn(plan, a.From)
		for d := a.From + 1; d < a.Until && begun && (b.Closed == 0 || d <= b.Closed); d++ {
			next, _ := b.StageOn(plan, d)
			if next == now {
				continue
			}
			text := fmt.Sprintf("%s enters its stage from day %d on %s", b.Name, plan.Stages[next].FromDay, d)
			if plan.Stages[next].Strength != plan.Stages[now].Strength {
				wrong = append(wrong, fmt.Sprintf("%s, at strength %.0f %% after %.0f %%: mix it before, or move the stage", text,
					100*plan.Stages[next].Strength, 100*plan.Stages[now].Strength))
			} else {
				remarks = append(remarks, text+", by itself")
			}
			now = next
		}
	}
	if len(remarks) == 0 {
		remarks = []string{"none is due"}
	}
	return judged("No stage that needs a person", strings.Join(remarks, "; "), wrong)
}

func (a *Away) clock() Item {
	fine := "no clock change before the return"
	_, before := a.From.At(0).In(a.Zone).In(a.Zone).Zone()
	_, after := a.Until.At(0).In(a.Zone).In(a.Zone).Zone()
	if before != after {
		fine = "clocks change before the return; each flood keeps its hour on the wall"
	}
	switch {
	case a.Record == nil:
		return Item{"The clock can be trusted", Unread, "no daemon answered; " + fine}
	case a.Record.Untrusted:
		return Item{"The clock can be trusted", Wrong, "the controller does not trust its clock: see to its network or its clock chip"}
	}
	return Item{"The clock can be trusted", Fine, fine}
}

const lastFloods = 10

func (a *Away) proven() Item {
	floods := a.Record.Floods[max(0, len(a.Record.Floods)-lastFloods):]
	var wrong []string
	for _, f := range floods {
		if !f.Proven {
			wrong = append(wrong, fmt.Sprintf("%s of %s is %s", a.Benches[f.Bench].Name, f.Due.In(a.Zone).Format("2 Jan 15:04"), f.Outcome))
		}
	}
	if len(floods) < lastFloods {
		wrong = append(wrong, fmt.Sprintf("only %d floods are on record", len(floods)))
	}
	return judged(recorded[0], fmt.Sprintf("all of the last %d", len(floods)), wrong)
}

// Three floods are looked at; 15 % off is where a pump wants cleaning (common
// practice, no source).
const (
	newestFloods = 3
	offBaseline  = 0.15
	enoughBefore = 7 // floods that make a baseline; with fewer it is the bench's sheet
)

func (a *Away) baseline() Item {
	var wrong, fine []string
	for i, b := range a.Benches {
		var fills, falls []time.Duration
		for _, f := range a.Record.Floods {
			if f.Bench == i && f.Fill > 0 && f.Fall > 0 {
				fills, falls = append(fills, f.Fill), append(falls, f.Fall)
			}
		}
		if len(fills) == 0 {
			wrong = append(wrong, b.Name+": no flood was measured")
			continue
		}
		for _, m := range []struct {
			what  string
			times []time.Duration
			sheet time.Duration
		}{{"fills", fills, b.Fill}, {"falls", falls, b.Fall}} {
			now, was := ends(m.times, m.sheet)
			text := fmt.Sprintf("%s %s in %s, was %s", b.Name, m.what, quantity.Duration(now), quantity.Duration(was))
			if off := float64(now)/float64(was) - 1; off > offBaseline || off < -offBaseline {
				wrong = append(wrong, text)
			} else {
				fine = append(fine, text)
			}
		}
	}
	return judged(recorded[1], strings.Join(fine, "; "), wrong)
}

// ends is the middle of the newest times and of those before.
func ends(times []time.Duration, sheet time.Duration) (now, was time.Duration) {
	at := max(0, len(times)-newestFloods)
	now, was = middle(times[at:]), sheet
	if at >= enoughBefore {
		was = middle(times[:at])
	}
	return now, was
}

func middle(times []time.Duration) time.Duration {
	sorted := slices.Sorted(slices.Values(times))
	return sorted[len(sorted)/2]
}

const testedWithin = 30 * day

func (a *Away) proofs() Item {
	var wrong []string
	tested := func(name string) {
		var last time.Time
		for _, p := range a.Record.Proofs {
			if p.Switch == name && p.At.After(last) {
				last = p.At
			}
		}
		switch {
		case last.IsZero():
			wrong = append(wrong, name+" was never tested")
		case a.Record.Now.Sub(last) > testedWithin:
			wrong = append(wrong, fmt.Sprintf("%s was tested last on %s", name, last.In(a.Zone).Format("2 Jan")))
		}
	}
	for _, b := range a.Benches {
		if b.High {
			tested(b.Name + ".high")
		}
	}
	for _, r := range a.Reservoirs {
		if r.Low {
			tested(r.Name + ".low")
		}
	}
	return judged(recorded[2], "all of them", wrong)
}

func (a *Away) cleaned() Item {
	var wrong []string
	for _, b := range a.Benches {
		all := inOrder(append(slices.Clone(a.Record.Diary[b.Name]), a.Record.Diary[""]...), Cleaning)
		if len(all) == 0 || a.Record.Now.Sub(all[len(all)-1].At) > 3*day {
			wrong = append(wrong, b.Name+": clean them now and write it into the diary")
		}
	}
	return judged(recorded[3], "by the diary", wrong)
}

func (a *Away) solutions() Item {
	back := a.Until.At(0).In(a.Zone)
	var wrong, fine []string
	for _, r := range a.Reservoirs {
		s := SolutionOf(append(slices.Clone(a.Record.Diary[r.Name]), a.Record.Diary[""]...), r.Usable, UsualTriggers, back)
		if len(s.Reasons) > 0 {
			wrong = append(wrong, r.Name+", at the return: "+strings.Join(s.Reasons, ", "))
		} else {
			fine = append(fine, fmt.Sprintf("%s: %.0f days old at the return", r.Name, s.Days))
		}
	}
	return judged(recorded[4], strings.Join(fine, "; "), wrong)
}

func (a *Away) held() Item { return judged(recorded[5], "nothing", a.Record.Held) }
