package bench

import (
	"time"

	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/live"
	"benchtide/safety"
)

// standingJSON is how commissioning stands, for programs. Times are the site's.
type verdictJSON struct {
	Site         string           `json:"site"`
	Commissioned *time.Time       `json:"commissioned"` // null when it was not, or the board is simulated
	Unattended   bool             `json:"unattended"`   // floods may start by themselves
	Why          string           `json:"why"`          // not; empty when they may
	Calibrated   []calibratedJSON `json:"calibrated"`
	Void         []string         `json:"void"` // benches calibrated with other plumbing
	ProofTests   []live.ProofTest `json:"proof_tests"`
	LeftOut      []live.LeftOut   `json:"left_out"` // of the commissioning: not done
}

type calibratedJSON struct {
	Bench  string  `json:"bench"`
	FillS  float64 `json:"fill_s"`
	FallS  float64 `json:"fall_s"`
	DrainS float64 `json:"drain_s"`
}

func verdictOf(site *config.Site, st commission.Verdict, now safety.Now) verdictJSON {
	at := func(t time.Time) *time.Time {
		if t.IsZero() {
			return nil
		}
		t = t.In(site.Zone)
		return &t
	}
	out := verdictJSON{
		Site: site.Name, Commissioned: at(st.Since), Unattended: st.Unattended == "", Why: st.Unattended,
		Calibrated: []calibratedJSON{}, Void: append([]string{}, st.Void...),
		ProofTests: onsite.ProofTests(st, site.Zone, now), LeftOut: onsite.LeftOut(st, site.Zone),
	}
	for _, b := range site.Benches {
		if c, ok := st.Cycles[b.Name]; ok {
			out.Calibrated = append(out.Calibrated, calibratedJSON{b.Name, c.Fill.Seconds(), c.Fall.Seconds(), c.Drain.Seconds()})
		}
	}
	return out
}
