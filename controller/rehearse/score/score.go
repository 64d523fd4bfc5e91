package score

import (
	"context"
	"fmt"
	"sync"

	"benchtide/controller/rehearse"
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
	ctx, stop := context.WithCancel(ctx)
	var work sync.WaitGroup
	defer work.Wait()
	defer stop()
	lives, next := make([]chan lived, o.Benches), make(chan int)
	for i := range lives {
		lives[i] = make(chan lived, 1)
	}
	for range max(o.Workers, 1) {
		work.Go(func() {
			for i := range next {
				lives[i] <- o.live(ctx, i)
			}
		})
	}
	work.Go(func() {
		defer close(next)
		for i := range lives {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	})
	return o.gather(ctx, lives)
}

// lived is what came of one bench.
type lived struct {
	outcomes []Outcome
	refused  bool // commissioning would refuse it
	err      error
}

// gather adds up the benches in their order.
func (o *Options) gather(ctx context.Context, lives []chan lived) (*Report, error) {
	rep := &Report{Benches: o.Benches, Days: days, Seed: o.Seed, Nature: "kind"}
	if o.Nature != nil {
		rep.Nature = o.Nature.Name
	}
	by := map[string][]Outcome{}
	for i, c := range lives {
		select {
		case l := <-c:
			if l.err != nil {
				return nil, fmt.Errorf("score: bench %d of seed %d: %w", i, o.Seed, l.err)
			}
			if l.refused {
				rep.NotTimed++
			}
			for _, out := range l.outcomes {
				by[out.Figure] = append(by[out.Figure], out)
			}
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		if o.Progress != nil {
			o.Progress(float64(i+1) / float64(len(lives)))
		}
	}
	for _, f := range figures {
		rep.Figures = append(rep.Figures, figureOf(f.name, f.unit, by[f.name]))
	}
	return rep, nil
}
