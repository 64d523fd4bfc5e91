package campaign

import (
	"flag"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
)

var stages = flag.Int("stages", 1, "how many of a flood's four stages trouble may come in, in the search of the small world")

// instants are times within the first flood of the example, at 09:00: in the
// fill, the hold and the drain, and at rest before.
var instants = []time.Duration{2 * time.Minute, 6 * time.Minute, 9 * time.Minute, -20 * time.Minute}

// TestNoWayThroughASmallWorldBreaksAnInvariant plays guard, controller, loop and
// bench through two days with every choice of trouble, or none, at each of
// several stages of the first flood: all faults that a bench can have, each for
// five minutes, and all that people and power can do.
func TestNoWayThroughASmallWorldBreaksAnInvariant(t *testing.T) {
	site, problems := config.Parse("bench.yaml", config.Example)
	require.NoError(t, problems.Err())
	s := rehearse.Scenario{From: monthFrom(2).AddDays(1), Days: 2, Seed: 1, Weather: "normal", Attended: true}
	due := s.From.At(0).In(site.Zone).Add(9 * time.Hour)
	ways := troubles(&setting{site, &s})
	played, spills := 0, 0
	var play func(int, rehearse.Scenario, bool)
	play = func(stage int, s rehearse.Scenario, leaks bool) {
		if stage == min(*stages, len(instants)) {
			played++
			report, err := rehearse.Run(t.Context(), site, s, rehearse.Options{})
			require.NoError(t, err)
			if report.SpilledL > drops {
				spills++
			}
			if !assert.Empty(t, report.BrokenInvariants) || !leaks && !assert.LessOrEqual(t, report.SpilledL, drops) {
				t.Fatal(write(&s, site.Zone, "the way there"))
			}
			return
		}
		play(stage+1, s, leaks)
		for _, w := range ways {
			c := s
			at := due.Add(instants[stage])
			if w.fault.What != "" {
				w.fault.At = at
				c.Faults = append(c.Faults[:len(c.Faults):len(c.Faults)], w.fault)
			} else {
				w.act.At = at
				c.Acts = append(c.Acts[:len(c.Acts):len(c.Acts)], w.act)
			}
			play(stage+1, c, leaks || w.leaks)
		}
	}
	play(0, s, false)
	t.Logf("%d ways through %d stages of %d troubles, %d with water on the floor, violations 0", played, *stages, len(ways), spills)
	assert.Greater(t, played, len(ways))
}

// trouble is a fault or an act; leaks when it may spill by itself.
type trouble struct {
	fault rehearse.Fault
	act   rehearse.Act
	leaks bool
}

func troubles(s *setting) (all []trouble) {
	for _, k := range kinds {
		for _, where := range k.places(s.site) {
			f := rehearse.Fault{What: k.what, Where: where, For: 5 * time.Minute, Size: 1}
			f.At = s.scenario.From.At(0).In(s.site.Zone)
			alone := setting{s.site, &rehearse.Scenario{From: s.scenario.From, Days: s.scenario.Days, Faults: []rehearse.Fault{f}}}
			all = append(all, trouble{fault: f, leaks: alone.allowance().spills()})
		}
	}
	for _, do := range []string{"flood", "stop", "skip", "resume", "mop"} {
		all = append(all, trouble{act: rehearse.Act{Do: do, Where: "north"}})
	}
	return append(all,
		trouble{act: rehearse.Act{Do: "hands-in", On: true, For: 5 * time.Minute}},
		trouble{act: rehearse.Act{Do: "proof-test"}},
		trouble{act: rehearse.Act{Do: "reset", Where: "north", Found: "nothing"}},
		trouble{act: rehearse.Act{Do: "top-up", Where: "tank"}},
		trouble{act: rehearse.Act{Do: "pause", Where: "north", Until: s.site.Batches[0].Transplanted.At(0).In(s.site.Zone).Add(30 * time.Hour)}},
	)
}
