package web_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller"
	"benchtide/controller/live"
)

// well is a site on which nothing is to be done.
func well() live.Status {
	return live.Status{
		At: "2026-03-12T12:00:00+00:00", ClockTrusted: true,
		Benches: []live.BenchStatus{{Name: "north", Next: &live.Planned{Due: "2026-03-12T15:00:00+00:00"}, Last: &controller.Row{Outcome: controller.Proven}}},
		Batches: []live.BatchStatus{{Name: "basil", Bench: "north", SinceS: 14_400, CanWaitS: 108_000, LimitS: 108_000, LimitBy: "stage", Ratio: 0.13}},
	}
}

func TestAPersonIsNeededForWhatOnlyAPersonCanMend(t *testing.T) {
	until, text := "2026-03-12T12:10:00+00:00", "no space left on device"
	last := func(o controller.Outcome, cause controller.Cause) func(*live.Status) {
		return func(s *live.Status) {
			s.Benches[0].Last = &controller.Row{Outcome: o, Cause: cause, Reason: "the breaker was off"}
		}
	}
	for name, c := range map[string]struct {
		change func(*live.Status)
		needs  string
		says   string
	}{
		"all is well":      {func(*live.Status) {}, "no", ""},
		"the pump rests":   {func(s *live.Status) { s.Benches[0].Refusal = &live.Refusal{Interlock: "min-rest", Until: &until} }, "no", ""},
		"a latched trip":   {func(s *live.Status) { s.Benches[0].Latched = []live.LatchedTrip{{Interlock: "leak"}} }, "now", "Then reset north"},
		"a low reservoir":  {func(s *live.Status) { s.Benches[0].Refusal = &live.Refusal{Interlock: "reservoir-low"} }, "today", "too little water"},
		"not commissioned": {func(s *live.Status) { s.Commissioning.Why = "nothing of this wiring was checked" }, "today", "nothing of this wiring"},
		"attended": {func(s *live.Status) {
			s.Commissioning = live.CommissioningStatus{Unattended: true, Why: "nothing was checked"}
		}, "no", ""},
		"a test in time": {func(s *live.Status) { s.Commissioning.ProofTests = []live.ProofTest{{Bench: "north"}} }, "no", ""},
		"an overdue test": {func(s *live.Status) {
			s.Commissioning.ProofTests = []live.ProofTest{{Bench: "north", Overdue: true}}
		}, "today", "proof test of its switches is overdue"},
		"hands-in":        {func(s *live.Status) { s.HandsIn = true }, "no", ""},
		"being sanitised": {func(s *live.Status) { s.Benches[0].Sanitising = &until }, "no", ""},
		"a pause":         {func(s *live.Status) { s.Benches[0].PausedUntil = &until }, "no", ""},
		"a neighbour": {func(s *live.Status) {
			s.Benches[0].Refusal = &live.Refusal{Interlock: "reservoir-low", Detail: `the water of bench "south" is not back in reservoir "tank"`}
		}, "no", ""},
		"an unproven one":  {last(controller.Unproven, controller.BySchedule), "today", "the last flood is not proven. The breaker was off"},
		"stopped by hand":  {last(controller.Interrupted, controller.ByHand), "no", ""},
		"skipped by hand":  {last(controller.Skipped, controller.BySchedule), "no", ""},
		"an untrusted one": {func(s *live.Status) { s.ClockTrusted = false }, "today", "time server"},
		"full storage":     {func(s *live.Status) { s.Record.Trouble = &text }, "today", "no space left"},
		"dry plants":       {func(s *live.Status) { s.Batches[0].SinceS, s.Batches[0].Ratio = 109_000, 1.01 }, "now", "Water them by hand"},
		"thirsty, in time": {func(s *live.Status) { s.Batches[0].SinceS, s.Batches[0].Ratio = 90_000, 0.83 }, "no", ""},
		"thirsty, too late": {func(s *live.Status) {
			s.Batches[0].SinceS, s.Batches[0].Ratio, s.Benches[0].PausedUntil = 90_000, 0.83, &until
		}, "today", "no flood is planned in time"},
		"thirsty, sanitised": {func(s *live.Status) {
			s.Batches[0].SinceS, s.Batches[0].Ratio, s.Benches[0].Sanitising = 90_000, 0.83, &until
		}, "today", "no flood is planned in time"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			s := well()
			c.change(&s)
			r.site.shown = &s
			st := asked[live.Status](t, r, "/status")
			assert.Equal(t, c.needs, st.NeedsYou)
			if c.says == "" {
				assert.Empty(t, st.Needs)
				return
			}
			var said []string
			for _, n := range st.Needs {
				said = append(said, n.Text)
			}
			assert.Contains(t, strings.Join(said, "\n"), c.says)
		})
	}
}

func TestTheMostUrgentNeedComesFirst(t *testing.T) {
	r := newRig(t)
	s := well()
	s.ClockTrusted, s.Benches[0].Latched = false, []live.LatchedTrip{{Interlock: "leak"}}
	s.Batches[0].Ratio = 1.2
	r.site.shown = &s
	var order []string
	for _, n := range asked[live.Status](t, r, "/status").Needs {
		order = append(order, n.Urgency)
	}
	assert.Equal(t, []string{"now", "now", "today"}, order)
}
