package grow

import (
	"fmt"
	"time"

	"benchtide/schedule"
)

// Proposal is a stage that a batch might enter now. Nothing enters it by itself:
// a person looks at the plants and decides.
type Proposal struct {
	Batch   int
	Stage   int      // index in its plan
	Reasons []string // for it
	Against []string // to wait
}

// Pots are watered when they score 2 of 5, and those at 4 and above are wet
// (common practice, no source). Fewer scores than three tell little.
const (
	dryScore     = 2.0
	wetScore     = 4.0
	enoughScores = 3
)

// Propose says which batches might enter another stage on d: the one that is due
// by age where the batch waits for a person's word, and a later one where pots
// score dry or hottest days want more floods than there are.
func (s *Site) Propose(d schedule.Date, r *Record, zone *time.Location) (all []Proposal, err error) {
	for i := range s.Batches {
		p, ok, err := s.propose(i, d, r, zone)
		if err != nil {
			return nil, err
		}
		if ok {
			all = append(all, p)
		}
	}
	return all, nil
}

func (s *Site) propose(batch int, d schedule.Date, r *Record, zone *time.Location) (Proposal, bool, error) {
	b := &s.Batches[batch]
	plan := s.Plans[b.Plan]
	present, ok := b.StageOn(plan, d)
	if !ok {
		return Proposal{}, false, nil
	}
	p := Proposal{Batch: batch, Stage: present}
	if due, _ := b.ByAge(plan, d); due > present {
		p.Stage = due
		p.Reasons = append(p.Reasons, fmt.Sprintf("it is %d days old, and the stage begins at day %d", b.age(d), plan.Stages[due].FromDay))
	}
	score, scored := score(s.Stand(batch, r, zone).Scores)
	if scored && score < dryScore && present+1 < len(plan.Stages) {
		p.Stage = max(p.Stage, present+1)
		p.Reasons = append(p.Reasons, fmt.Sprintf("its pots score %.1f of 5, drier than the %.0f at which they want water", score, dryScore))
	}
	if err := s.thirsty(&p, present, d); err != nil {
		return p, false, err
	}
	if scored && score >= wetScore {
		p.Against = append(p.Against, fmt.Sprintf("its pots score %.1f of 5, which is wet", score))
	}
	return p, len(p.Reasons) > 0, nil
}

// thirsty looks for the first later stage with the floods that the days up to a
// week ahead want.
func (s *Site) thirsty(p *Proposal, present int, d schedule.Date) error {
	advice, err := s.Advise(p.Batch, d, 1)
	if err != nil || len(advice) == 0 || advice[0].Verdict != Seldom {
		return err
	}
	plan := s.Plans[s.Batches[p.Batch].Plan]
	for stage := present + 1; stage < len(plan.Stages); stage++ {
		if st := plan.Stages[stage]; st.Every <= 1 && perDay(st, d) >= advice[0].Needed {
			p.Stage = max(p.Stage, stage)
			p.Reasons = append(p.Reasons, fmt.Sprintf("on hottest days %s a day are needed within a week, and %s planned", floods(advice[0].Needed), areFloods(advice[0].Planned)))
			break
		}
	}
	return nil
}

func areFloods(n int) string {
	if n == 1 {
		return "one is"
	}
	return fmt.Sprintf("%d are", n)
}

// score is the mean of the scores; false where there are too few.
func score(all []float64) (mean float64, ok bool) {
	for _, x := range all {
		mean += x / float64(len(all))
	}
	return mean, len(all) >= enoughScores
}

// perDay is how often a stage floods on a date.
func perDay(s schedule.Stage, d schedule.Date) int {
	if s.Cron == nil {
		return max(len(s.At), s.Spread)
	}
	n := 0
	for at, ok := s.Cron.Next(d.At(0) - 1); ok && at.Date() == d; at, ok = s.Cron.Next(at) {
		n++
	}
	return n
}
