package client

import (
	"strings"
	"testing"
	"text/tabwriter"

	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
	"benchtide/controller/texts"
)

// shownChecks is what "benchtide status" shows of commissioning.
func shownChecks(st live.CommissioningStatus) string {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	writeCommissioning(t, &st, texts.Titles{})
	_ = t.Flush() // into memory
	return b.String()
}

func TestStatusShowsWhenSwitchesWereProvedAndHaveToBe(t *testing.T) {
	last, due := "2026-03-02T12:00:00+00:00", "2026-04-01T13:00:00+01:00"
	proved := live.ProofTest{Bench: "north", Last: &last, Due: &due}
	require.Equal(t, "switches  north proved on 2 Mar 2026, the next proof test is due by 1 Apr 2026\n",
		shownChecks(live.CommissioningStatus{Unattended: true, ProofTests: []live.ProofTest{proved}}))
	proved.Overdue = true
	require.Equal(t, "switches  ! the proof test of north was due by 1 Apr 2026; holds may be shorter until it is done\n",
		shownChecks(live.CommissioningStatus{Unattended: true, ProofTests: []live.ProofTest{proved}}))
}

func TestStatusShowsWhatWasNotChecked(t *testing.T) {
	const why = `nothing of this wiring was checked: run "benchtide commission" beside the bench`
	never := []live.ProofTest{{Bench: "north", Overdue: true}}
	require.Equal(t, `wiring    ! no flood starts by itself: nothing of this wiring was checked: run "benchtide commission" beside the bench
switches  ! those of north were never proved on this wiring; holds may be shorter until they are
`, shownChecks(live.CommissioningStatus{Why: why, ProofTests: never}))

	north := "north"
	shown := shownChecks(live.CommissioningStatus{Why: why, Unattended: true, LeftOut: []live.LeftOut{
		{Step: "the residual-current device"}, {Step: "the overflow stands the longest hold", Bench: &north},
	}})
	require.Contains(t, shown, "! floods start, though nothing of this wiring was checked")
	require.Contains(t, shown, `! left out, and still to be done by "benchtide commission --left-out": the residual-current device; the overflow stands the longest hold, north`)
}
