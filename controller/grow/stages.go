package grow

import (
	"fmt"

	"benchtide/schedule/demand"
)

// StageNeed is what a batch needs in a stage of its plan, at the end of it when
// its plants are thirstiest.
type StageNeed struct {
	Stage int
	Age   int // of the plants then
	Needs [len(Kinds)]demand.Need
}

// open is how many days of a plan's last stage are looked at: it has no end.
const open = 28

// StageNeeds works out what a batch needs stage by stage, with each stage's own
// hold and the weather of its time of the year.
func (s *Site) StageNeeds(batch int) ([]StageNeed, error) {
	b := &s.Batches[batch]
	stages := s.Plans[b.Plan].Stages
	all := make([]StageNeed, len(stages))
	for i, st := range stages {
		n := StageNeed{Stage: i, Age: st.FromDay + open}
		if i+1 < len(stages) {
			n.Age = stages[i+1].FromDay - 1
		}
		for _, k := range Kinds {
			w, err := s.Weather(b.Transplanted.AddDays(n.Age), k)
			if err == nil {
				n.Needs[k], err = b.need(n.Age, s.contact(b, st.Hold), w, k)
			}
			if err != nil {
				return nil, fmt.Errorf("stages of %s: %w", b.Name, err)
			}
		}
		all[i] = n
	}
	return all, nil
}
