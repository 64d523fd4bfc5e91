package grow

import (
	"fmt"
	"slices"
	"strings"

	"benchtide/schedule/demand"
)

// water holds each reservoir against what plants use in the hottest weather.
func (a *Away) water() Item {
	var wrong, fine []string
	for r, res := range a.Reservoirs {
		has, known := a.holds(r)
		used, err := a.uses(r)
		if err != nil {
			wrong = append(wrong, err.Error())
			continue
		}
		if !known {
			wrong = append(wrong, fmt.Sprintf("%s: nobody knows what it holds: %s; fill it to the mark and write that down, or have a flood weigh it", a.Site.Called.Reservoir(res.Name), a.Record.Unknown[r]))
			continue
		}
		text := fmt.Sprintf("%s: %s used on hottest days, a fifth to spare included, of %s that can go before it cannot flood", a.Site.Called.Reservoir(res.Name), a.Site.volume(used), a.Site.volume(max(0, has-res.Reserve)))
		if used > has-res.Reserve {
			wrong = append(wrong, text+fmt.Sprintf("; filled to the mark, and that written down, it has %s", a.Site.volume(max(0, res.Usable-res.Reserve))))
		} else {
			fine = append(fine, text)
		}
	}
	return judged("Water for the days away", strings.Join(fine, "; "), wrong)
}

// holds is what a reservoir holds by its weighings and what was written down; full
// where it was filled within a day and nothing weighs it, or nobody can be asked.
func (a *Away) holds(r int) (litres demand.Litres, known bool) {
	switch {
	case a.Record == nil:
		return a.Reservoirs[r].Usable, true
	case a.Record.Unknown[r] == "":
		return a.Record.Litres[r], true
	}
	return a.Reservoirs[r].Usable, a.filled(r)
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
				wrong = append(wrong, a.Site.Called.Batch(a.Site.Batches[i].Name)+": "+v.Words)
			}
		}
	}
	return judged("Floods enough for hot days", "every batch gets what it needs on the hottest days", wrong)
}

func (a *Away) rehearsed() Item {
	wrong := slices.Clone(a.Rehearsed.Broken)
	if s := a.Rehearsed.Spilled; s > 0.05 {
		wrong = append(wrong, a.Site.volume(demand.Litres(s))+" spilled")
	}
	for i, lowest := range a.Rehearsed.Lowest {
		pot := a.Site.Batches[i].Demand.Pot
		if limit := float64(pot.Threshold() / pot.Holds()); lowest < limit {
			wrong = append(wrong, fmt.Sprintf("%s falls to %.0f %% of what its pots hold, below its %.0f %%", a.Site.Called.Batch(a.Site.Batches[i].Name), 100*lowest, 100*limit))
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
			text := fmt.Sprintf("%s enters its stage from day %d on %s", a.Site.Called.Batch(b.Name), plan.Stages[next].FromDay, d)
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
	item := Item{"The clock can be trusted", Fine, fine}
	switch {
	case a.Record == nil:
		item.Mark, item.Reason = Unread, "no daemon answered; "+fine
	case a.Record.Untrusted:
		item.Mark, item.Reason = Wrong, "the controller does not trust its clock: see to its network or its clock chip"
	}
	return item
}
