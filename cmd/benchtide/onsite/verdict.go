package onsite

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/commission"
	"benchtide/controller/live"
	"benchtide/safety"
)

// ProofTests are the proof tests of each bench as the API shows them; overdue by
// now.
func ProofTests(st commission.Verdict, zone *time.Location, now safety.Now) []live.ProofTest {
	all := []live.ProofTest{}
	for _, t := range st.Tests {
		shown := live.ProofTest{Bench: t.Bench, Overdue: t.OverdueAt(now)}
		if !t.Last.IsZero() {
			last, due := controller.Stamp(t.Last, zone), controller.Stamp(t.Due, zone)
			shown.Last, shown.Due = &last, &due
		}
		all = append(all, shown)
	}
	return all
}

// LeftOut is what was left out of the commissioning, as the API shows it.
func LeftOut(st commission.Verdict, zone *time.Location) []live.LeftOut {
	all := []live.LeftOut{}
	for _, o := range st.LeftOut {
		left := live.LeftOut{Step: o.Step, At: controller.Stamp(o.At, zone)}
		if o.Bench != "" {
			left.Bench = &o.Bench
		}
		all = append(all, left)
	}
	return all
}
