package config

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/schedule"
)

// WithCalibration returns the site with what was measured on its benches, by
// name, in place of what the file says or what would be computed; a zero figure
// leaves the file's. Sheets and limits are worked out anew. The error says what
// of the file cannot be right by these measurements: a reservoir too small for
// the flood, a HIGH below its peak. The site itself does not change.
func (s *Site) WithCalibration(found map[string]sheet.Cycle) (*Site, error) {
	c := *s
	c.Benches = slices.Clone(s.Benches)
	for i := range c.Benches {
		b := &c.Benches[i]
		if cycle, ok := found[b.Name]; ok {
			b.Cycle = over(b.Cycle, cycle)
		}
	}
	r := &reader{positions: map[string]position{}}
	r.check(&c)
	var errs []error
	for _, p := range r.problems.Errors() {
		errs = append(errs, errors.New(p.Text))
	}
	if len(errs) > 0 {
		return nil, fmt.Errorf("by what was measured: %w", errors.Join(errs...))
	}
	return &c, nil
}

// over is what was measured, and of the file what was not.
func over(file, found sheet.Cycle) sheet.Cycle {
	for _, d := range []struct{ to, from *time.Duration }{
		{&file.Fill, &found.Fill}, {&file.Fall, &found.Fall}, {&file.Drain, &found.Drain},
	} {
		if *d.from > 0 {
			*d.to = *d.from
		}
	}
	if found.Flow > 0 {
		file.Flow = found.Flow
	}
	if found.Free > 0 {
		file.Free = found.Free
	}
	return file
}

// WithHoldsUpTo returns the site with no batch on bench i flooded for a longer
// hold than most. The same plan goes on unchanged on other benches.
func (s *Site) WithHoldsUpTo(i int, most time.Duration) *Site {
	c := *s
	c.Plans, c.Batches = slices.Clone(s.Plans), slices.Clone(s.Batches)
	cut := map[int]int{} // plans by what they are cut to
	for n := range c.Batches {
		b := &c.Batches[n]
		if b.Bench != i {
			continue
		}
		if _, done := cut[b.Plan]; !done {
			cut[b.Plan] = len(c.Plans)
			c.Plans = append(c.Plans, cutHolds(s.Plans[b.Plan], most))
		}
		b.Plan = cut[b.Plan]
	}
	c.busiest = busiest(&c)
	return &c
}

func cutHolds(p schedule.Plan, most time.Duration) schedule.Plan {
	p.Stages = slices.Clone(p.Stages)
	for i := range p.Stages {
		p.Stages[i].Hold = min(p.Stages[i].Hold, most)
	}
	return p
}

// BenchOn is what the sheet of bench i is made from with the pots that stand on
// it on one day alone: what a calibration of that day compares with.
func (s *Site) BenchOn(i int, day schedule.Date) sheet.Bench {
	made := s.bench(i)
	made.Tenants = nil
	if pots := s.tenantsOn(i, day); len(pots) > 0 {
		made.Tenants = [][]sheet.Pots{pots}
	}
	return made
}

// Plumbing identifies table, standpipe, supply, drain and the height of FULL
// of bench i. What was measured on one plumbing says nothing about another.
func (s *Site) Plumbing(i int) string {
	b := &s.Benches[i]
	full := quantity.Metres(-1)
	if b.Full != nil {
		full = b.Full.At
	}
	made := fmt.Appendf(nil, "table %g %g %g standpipe %g %g supply %g %g %g %g %g drain %t %t %g %g full %g",
		b.Table.Length, b.Table.Width, b.Table.Rim, b.Standpipe.Crest, b.Standpipe.Bore,
		b.Supply.Bore, b.Supply.Length, b.Supply.Lift, b.Supply.MaxHead, b.Supply.MaxFlow,
		b.Drain.ThroughPump, b.Drain.Always, b.Drain.Bore, b.Drain.Length, full)
	if len(b.Supply.Curve) > 0 {
		made = fmt.Appendf(made, " curve %v", b.Supply.Curve)
	}
	sum := sha256.Sum256(made)
	return hex.EncodeToString(sum[:])
}
