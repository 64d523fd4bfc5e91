package main

import (
	"time"

	"benchtide/controller/commission"
	"benchtide/controller/config"
)

// standingJSON is how commissioning stands, for programs. Times are the site's.
type standingJSON struct {
	Site         string           `json:"site"`
	Commissioned *time.Time       `json:"commissioned"` // null when it was not, or the board is simulated
	Unattended   bool             `json:"unattended"`   // floods may start by themselves
	Why          string           `json:"why"`          // not; empty when they may
	Calibrated   []calibratedJSON `json:"calibrated"`
	Void         []string         `json:"void"` // benches calibrated with other plumbing
	ProofTests   []proofTestJSON  `json:"proof_tests"`
	LeftOut      []leftOutJSON    `json:"left_out"` // of the commissioning: not done
}

type calibratedJSON struct {
	Bench  string  `json:"bench"`
	FillS  float64 `json:"fill_s"`
	FallS  float64 `json:"fall_s"`
	DrainS float64 `json:"drain_s"`
}

type proofTestJSON struct {
	Bench   string     `json:"bench"`
	Last    *time.Time `json:"last"` // null when never on this wiring
	Due     *time.Time `json:"due"`
	Overdue bool       `json:"overdue"`
}

type leftOutJSON struct {
	Step  string    `json:"step"`
	Bench *string   `json:"bench"` // null of what is about the site
	At    time.Time `json:"at"`
}

func standingOf(site *config.Site, st commission.Standing) standingJSON {
	at := func(t time.Time) *time.Time {
		if t.IsZero() {
			return nil
		}
		t = t.In(site.Zone)
		return &t
	}
	out := standingJSON{
		Site: site.Name, Commissioned: at(st.Since), Unattended: st.Unattended == "", Why: st.Unattended,
		Calibrated: []calibratedJSON{}, Void: append([]string{}, st.Void...), ProofTests: []proofTestJSON{},
		LeftOut: []leftOutJSON{},
	}
	for _, b := range site.Benches {
		if c, ok := st.Cycles[b.Name]; ok {
			out.Calibrated = append(out.Calibrated, calibratedJSON{b.Name, c.Fill.Seconds(), c.Fall.Seconds(), c.Drain.Seconds()})
		}
	}
	for _, t := range st.Tests {
		out.ProofTests = append(out.ProofTests, proofTestJSON{t.Bench, at(t.Last), at(t.Due), t.Overdue})
	}
	for _, o := range st.LeftOut {
		left := leftOutJSON{Step: o.Step, At: o.At.In(site.Zone)}
		if o.Bench != "" {
			left.Bench = &o.Bench
		}
		out.LeftOut = append(out.LeftOut, left)
	}
	return out
}
