package campaign

import (
	"context"
	"slices"

	"benchtide/controller/rehearse"
)

// shrink looks for a smaller month with the same kind of charge: without this
// fault, that act, the weather. It goes on until nothing more can be left out.
func shrink(ctx context.Context, p *DrawnSite, j *judgement) (*judgement, error) {
	kind := j.charges[0].Kind
	for {
		smaller, err := shrinkOnce(ctx, p, j, kind)
		if smaller == nil || err != nil {
			return j, err
		}
		j = smaller
	}
}

// shrinkOnce returns the first of the smaller months that still fails; nil when
// none does.
func shrinkOnce(ctx context.Context, p *DrawnSite, j *judgement, kind string) (*judgement, error) {
	free := len(j.scenario.Acts)
	if kind == unwatered { // as every crop is while nobody mends anything
		free = j.tillMended()
	}
	for _, s := range smaller(j.scenario, free) {
		tried, err := liveMonth(ctx, p, &s)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(tried.charges, func(c Charge) bool { return c.Kind == kind }) {
			return tried, nil
		}
	}
	return nil, nil
}

// tillMended counts the acts before all is mended.
func (j *judgement) tillMended() int {
	n := slices.IndexFunc(j.scenario.Acts, func(a rehearse.Act) bool { return j.since(a.At) >= mended })
	if n < 0 {
		return len(j.scenario.Acts)
	}
	return n
}

// smaller lists months that leave out a part of s, the largest part first; of
// the acts, some of the first free.
func smaller(s *rehearse.Scenario, free int) (all []rehearse.Scenario) {
	add := func(change func(*rehearse.Scenario)) {
		c := *s
		c.Faults, c.Acts = slices.Clone(s.Faults), slices.Clone(s.Acts)
		change(&c)
		all = append(all, c)
	}
	for n := free / 2; n > 0; n /= 2 {
		for from := 0; from+n <= free; from += n {
			add(func(c *rehearse.Scenario) { c.Acts = slices.Delete(c.Acts, from, from+n) })
		}
	}
	if free == 1 {
		add(func(c *rehearse.Scenario) { c.Acts = slices.Delete(c.Acts, 0, 1) })
	}
	for i := range s.Faults {
		add(func(c *rehearse.Scenario) { c.Faults = slices.Delete(c.Faults, i, i+1) })
		if s.Faults[i].Over > 0 {
			add(func(c *rehearse.Scenario) { c.Faults[i].Over = 0 })
		}
	}
	if s.Weather != "normal" {
		add(func(c *rehearse.Scenario) { c.Weather = "normal" })
	}
	if !s.Attended {
		add(func(c *rehearse.Scenario) { c.Attended = true })
	}
	return all
}
