package grow

import (
	"math"
	"slices"
	"time"
)

// Cohort is pots of one age within a batch.
type Cohort struct {
	Since time.Time
	Pots  int
}

// Count is what the diary of a batch comes to.
type Count struct {
	Sown, Germinated, Resown, Thinned, Lost, MovedOut int
	Cohorts                                           []Cohort // that stand, the eldest first
}

// Left is how many pots are left.
func (c Count) Left() (pots int) {
	for _, k := range c.Cohorts {
		pots += k.Pots
	}
	return pots
}

// countOf goes through the diary of a batch. Pots that are resown begin again:
// they leave the eldest and are a younger cohort. Lost pots are of the youngest,
// those moved out of the eldest. Thinned seedlings leave their pot standing.
func countOf(entries []Entry) Count {
	var c Count
	for _, e := range inOrder(entries, counts...) {
		n := int(math.Round(e.Value))
		switch e.Kind {
		case Sown:
			c.Sown += n
			c.Cohorts = append(c.Cohorts, Cohort{e.At, n})
		case Transplanted: // the pots that go on, at age 0 of the plan
			c.Cohorts = []Cohort{{e.At, n}}
		case Germinated:
			c.Germinated += n
		case Thinned:
			c.Thinned += n
		case Resown:
			c.Resown += n
			c.eldest(n)
			c.Cohorts = append(c.Cohorts, Cohort{e.At, n})
		case Lost:
			c.Lost += n
			slices.Reverse(c.Cohorts)
			c.eldest(n)
			slices.Reverse(c.Cohorts)
		case MovedOut:
			c.MovedOut += n
			c.eldest(n)
		}
	}
	return c
}

// eldest takes pots away from the first cohorts.
func (c *Count) eldest(n int) {
	for i := range c.Cohorts {
		take := min(n, c.Cohorts[i].Pots)
		c.Cohorts[i].Pots -= take
		n -= take
	}
	c.Cohorts = slices.DeleteFunc(c.Cohorts, func(k Cohort) bool { return k.Pots == 0 })
}
