package campaign

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// judge finds out on the hidden bench whether what a warning says comes true.
type judge struct {
	of, by string   // what is warned of, and what shows that it is so
	words  []string // of such a warning, one of them
	try    func(s *rehearse.Scenario, n *newcomer, bench int)
	came   func(n *newcomer, l *livedFirst, bench int) bool
}

// judges are those of warnings that the water of a simulated bench can answer.
var judges = []judge{
	{"less than a fifth of the head in reserve", "a pump that has lost a fifth of its head does not prove the flood", []string{"of the head is in reserve"},
		func(s *rehearse.Scenario, _ *newcomer, _ int) { s.Nature = worn(s.Nature) }, notProven},
	{"HIGH a float's play above an ordinary flood", "HIGH stops one of 20 first floods", []string{"it might stop sound floods"}, nil, nil},
	{"HIGH below a flood where the standpipe carries little", "HIGH stops one of 20 first floods", []string{"HIGH might stop sound floods"}, nil, nil},
	{"no FULL", "its flood is not proven", []string{"no full_switch", "neither full_switch"}, func(*rehearse.Scenario, *newcomer, int) {}, notProven},
	{"no low switch", "the pump runs dry as the reservoir leaks", []string{"no low_switch"},
		func(s *rehearse.Scenario, n *newcomer, bench int) {
			s.Attended, s.Days = false, 8
			fault(s, n, "reservoir-leak", n.file.Reservoirs[n.file.Benches[bench].Reservoir].Name)
		},
		func(_ *newcomer, l *livedFirst, _ int) bool { return l.report.DryPumpS > 1 }},
	{"nothing but the standpipe, or the program, keeps water in", "it spills, standpipe and FULL stuck, or relay and standpipe", []string{"only the standpipe keeps water", "nothing but this program acts"},
		func(s *rehearse.Scenario, n *newcomer, bench int) {
			b := &n.file.Benches[bench]
			fault(s, n, "drain-blocked", b.Name)
			if b.High == nil {
				fault(s, n, "full-stuck-low", b.Name)
				return
			}
			fault(s, n, "relay-welded", n.file.Outputs[b.Pump].Name)
		},
		func(_ *newcomer, l *livedFirst, _ int) bool { return l.report.SpilledL > drops }},
	{"no enable relay", "a pump whose contact welds runs on", []string{"no enable relay in series"},
		func(s *rehearse.Scenario, n *newcomer, bench int) {
			fault(s, n, "relay-welded", n.file.Outputs[n.file.Benches[bench].Pump].Name)
		},
		func(n *newcomer, l *livedFirst, bench int) bool {
			return l.report.PumpS[n.file.Outputs[n.file.Benches[bench].Pump].Name] > 6*3600
		}},
	{"a low switch so near the mark that no flood may start", "one is refused in a week without a top-up", []string{"no flood may start until somebody tops it up"},
		func(s *rehearse.Scenario, _ *newcomer, _ int) { s.Attended, s.Days = false, 7 },
		func(_ *newcomer, l *livedFirst, _ int) bool { return l.refused > 0 }},
	{"a hold that the count may cut", "a flood is short in three weeks without a top-up", []string{"may be stopped before its hold is over"},
		func(s *rehearse.Scenario, _ *newcomer, _ int) { s.Attended, s.Days = false, 21 },
		func(_ *newcomer, l *livedFirst, _ int) bool {
			return l.report.Floods[controller.Short] > 0
		}},
}

// notJudged are warnings that no simulated water answers, by words of theirs.
var notJudged = []struct{ of, words string }{
	{"a standpipe that gulps: the simulated one does not", "gulps above"},
	{"pots that float, or a depth that roots do not like", "the pots of"},
	{"a figure that may be mistyped: here none is", "If it is right, leave it"},
	{"a pump out of proportion to its table", "the table would fill in"},
	{"HIGH near the rim: the simulated table has no corner that is low", "below the rim at"},
}

func notProven(_ *newcomer, l *livedFirst, bench int) bool {
	return l.floods[bench].Outcome != controller.Proven
}

// worn is a nature whose pumps have lost a fifth of their heads.
func worn(n *rehearse.Nature) *rehearse.Nature {
	old := *n
	old.Rows = slices.Clone(n.Rows)
	for i := range old.Rows {
		if r := &old.Rows[i]; r.Name == "pump.head" {
			r.Low, r.High = 0.8*r.Low, 0.8*r.High
		}
	}
	return &old
}

func fault(s *rehearse.Scenario, n *newcomer, what, where string) {
	s.Faults = append(s.Faults, rehearse.Fault{What: what, Where: where, At: n.day.At(0).In(n.file.Zone), Size: 1})
}

// highTries is how many hidden benches behind one file are asked whether HIGH stops them.
const highTries = 20

func (j *judge) rightly(ctx context.Context, n *newcomer, s rehearse.Scenario, bench int) (bool, error) {
	tries := 1
	if j.try == nil {
		tries = highTries
	}
	for range tries {
		if j.try != nil {
			j.try(&s, n, bench)
		}
		l, err := n.live(ctx, s)
		if err != nil {
			return false, err
		}
		if j.try == nil && slices.Contains(l.trips, safety.HighLevel) || j.try != nil && j.came(n, &l, bench) {
			return true, nil
		}
		s.Seed++
	}
	return false, nil
}

// tally counts a kind of warning.
type tally struct {
	warned, rightly int // warnings, and of those what came true
	quiet, missed   int // benches that were not so warned, and of those what came true
}

func (t tally) with(o tally) tally {
	return tally{t.warned + o.warned, t.rightly + o.rightly, t.quiet + o.quiet, t.missed + o.missed}
}

func (t tally) of(n int, known bool) string {
	if !known {
		return ""
	}
	return strconv.Itoa(n)
}

// asked is on one in how many sites that are passed without a word the judges look.
const asked = 8

// rightly judges the warnings of a site; where there is none, some sites are held to all
// judges, as what the warnings are worth.
func (n *newcomer) rightly(ctx context.Context, s rehearse.Scenario) (map[string]tally, error) {
	all := map[string]tally{}
	for _, said := range n.said {
		kind, j := warningOf(said)
		t := tally{warned: 1}
		if j != nil {
			came, err := j.rightly(ctx, n, s, n.about(said))
			if err != nil {
				return nil, err
			}
			if came {
				t.rightly = 1
			}
		}
		all[kind] = all[kind].with(t)
	}
	if len(n.said) > 0 || s.Seed%asked != 0 {
		return all, nil
	}
	for i := range judges {
		came, err := judges[i].rightly(ctx, n, s, 0)
		if err != nil {
			return nil, err
		}
		t := tally{quiet: 1}
		if came {
			t.missed = 1
		}
		all[judges[i].of] = t
	}
	return all, nil
}

func warningOf(said string) (string, *judge) {
	for i := range judges {
		if slices.ContainsFunc(judges[i].words, func(w string) bool { return strings.Contains(said, w) }) {
			return judges[i].of, &judges[i]
		}
	}
	for _, k := range notJudged {
		if strings.Contains(said, k.words) {
			return k.of, nil
		}
	}
	return "other: " + said, nil
}

// about is the bench that a warning is about, or one of its reservoir.
func (n *newcomer) about(said string) int {
	for i, b := range n.file.Benches {
		pump := "outputs." + n.file.Outputs[b.Pump].Name
		for _, place := range []string{"benches." + b.Name, pump, "reservoirs." + n.file.Reservoirs[b.Reservoir].Name} {
			if strings.HasPrefix(said, place+".") || strings.HasPrefix(said, place+":") {
				return i
			}
		}
	}
	return 0
}
