package score

import (
	"context"
	"fmt"

	"benchtide/controller/rehearse"
	"benchtide/controller/rehearse/campaign"
)

// Options say on how many benches the program is scored.
type Options struct {
	Benches int
	Seed    uint64 // of everything that is left to chance
	Workers int    // benches lived on at the same time; 0 means one

	// Nature is what the benches are drawn from; nil is the plain bench of their files.
	Nature   *rehearse.Nature
	Progress func(done float64)
}

// Report is how well the program states its figures.
type Report struct {
	Benches  int      `json:"benches"` // that were drawn
	Days     int      `json:"days"`    // lived on each
	Seed     uint64   `json:"seed"`
	Nature   string   `json:"nature"`
	NotTimed int      `json:"not_timed"` // benches that commissioning would refuse as nature made them: nothing is stated of them
	Figures  []Figure `json:"figures"`
}

// Run scores the program. The report depends on Benches, Seed and Nature alone. The
// error is ctx's, or says which bench could not be lived on.
func Run(ctx context.Context, o Options) (*Report, error) {
	rep := &Report{Benches: o.Benches, Days: days, Seed: o.Seed, Nature: "kind"}
	if o.Nature != nil {
		rep.Nature = o.Nature.Name
	}
	by := map[string][]Outcome{}
	err := campaign.InOrder(ctx, o.Benches, o.Workers, o.Progress, o.live, func(i int, l lived) error {
		if l.err != nil {
			return fmt.Errorf("score: bench %d of seed %d: %w", i, o.Seed, l.err)
		}
		if l.refused {
			rep.NotTimed++
		}
		for _, out := range l.outcomes {
			by[out.Figure] = append(by[out.Figure], out)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, f := range figures {
		rep.Figures = append(rep.Figures, figureOf(f.name, f.unit, by[f.name]))
	}
	return rep, nil
}

// lived is what came of one bench.
type lived struct {
	outcomes []Outcome
	refused  bool // commissioning would refuse it
	err      error
}
