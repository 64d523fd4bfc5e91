package campaign

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
	"benchtide/safety"
)

var (
	firstSites   = flag.Int("first", 6, "how many sites of either kind to see the first floods of")
	firstSeed    = flag.Uint64("first.seed", 1, "which sites those are")
	firstWorkers = flag.Int("first.workers", 2, "how many to see at the same time")
	firstNature  = flag.String("first.nature", "wild", "what they are drawn from")
	firstInto    = flag.String("first.into", "", "a file for the tables of what came of them")
)

// firstFlood is what became of the first flood of a bench.
type firstFlood struct {
	controller.Flood          // its Outcome is empty where it had none
	said             []string // messages about it
}

// livedFirst is what became of a site until its first floods had their outcomes.
type livedFirst struct {
	floods  []firstFlood // by bench
	refused int          // floods that were due and did not run
	trips   []safety.Interlock
	report  *rehearse.Report
}

// firstDays is for how long the first flood is waited for.
const firstDays = 2

// live lives the first days of a site that nobody timed yet.
func (n *newcomer) live(ctx context.Context, s rehearse.Scenario) (l livedFirst, err error) {
	l.floods = make([]firstFlood, len(n.file.Benches))
	each := func(e *controller.Event) {
		switch {
		case e.Kind == controller.FloodEnded && l.floods[e.Bench].Outcome == "":
			l.floods[e.Bench].Flood = e.Flood
		case e.Kind == controller.MessageSent:
			for b := range l.floods {
				if f := &l.floods[b]; e.Message.Bench < 0 || e.Message.Bench == b {
					f.said = append(f.said, e.Message.Text)
				}
			}
		}
		if e.Kind == controller.FloodEnded && e.Flood.Outcome == controller.Refused {
			l.refused++
		}
	}
	l.report, err = rehearse.Run(ctx, n.file, s, rehearse.Options{Built: n.built, Timed: true, NoRows: true, NoDrift: true, Each: func(m rehearse.Observation) {
		for i := range m.Turn.Events {
			each(&m.Turn.Events[i])
		}
	}})
	if err == nil {
		for _, t := range l.report.Trips {
			l.trips = append(l.trips, t.Interlock)
		}
	}
	return l, err
}

// without is a nature in which the rows that begin so are plain.
func without(n *rehearse.Nature, rows string) *rehearse.Nature {
	plain := rehearse.Nature{Name: n.Name}
	for _, r := range n.Rows {
		if !strings.HasPrefix(r.Name, rows) {
			plain.Rows = append(plain.Rows, r)
		}
	}
	return &plain
}

// names are the parts of a bench, by the rows of nature that draw them, that a person is
// sent to by the words of an interlock.
var names = map[safety.Interlock][]string{
	safety.FillWindow:   {"hose.", "pump.", "standpipe.", "tank.", "float."},
	safety.HighLevel:    {"standpipe.", "float."},
	safety.DrainWindow:  {"drain.", "float."},
	safety.NotEmpty:     {"drain.", "float."},
	safety.ReservoirLow: {"tank.", "pots."},
}

// parts are all that nature draws of a bench.
var parts = []string{"pump.", "hose.", "standpipe.", "drain.", "table.", "float.", "tank.", "pots."}

// why is which part of a bench keeps its flood from being proven: as its file has that
// one alone, the flood is.
func (n *newcomer) why(ctx context.Context, s rehearse.Scenario, bench int) (guilty []string, err error) {
	for _, part := range parts {
		plain := s
		plain.Nature = without(s.Nature, part)
		l, err := n.live(ctx, plain)
		if err != nil {
			return nil, err
		}
		if l.floods[bench].Outcome == controller.Proven {
			guilty = append(guilty, part)
		}
	}
	return guilty, nil
}

// firstCount counts what came of the first floods of many sites.
type firstCount struct {
	sites, floods, proven int
	unproven              map[string]int // by interlock
	spilled               float64        // L
	broken                []string       // invariants, that of pumps that run dry among them
	told, untold          int            // those that were not proven, with a part that is guilty among what was named or without
	wrong                 []string
}

func (f *firstCount) see(ctx context.Context, n *newcomer, s rehearse.Scenario) error {
	l, err := n.live(ctx, s)
	if err != nil {
		return err
	}
	f.sites++
	f.spilled += l.report.SpilledL
	f.broken = append(f.broken, l.report.BrokenInvariants...)
	for b := range l.floods {
		f.floods++
		if l.floods[b].Outcome == controller.Proven {
			f.proven++
		} else if err := f.fails(ctx, n, s, &l.floods[b], b); err != nil {
			return err
		}
	}
	return nil
}

// fails counts the first flood of a bench that is not proven.
func (f *firstCount) fails(ctx context.Context, n *newcomer, s rehearse.Scenario, flood *firstFlood, bench int) error {
	by, _, _ := strings.Cut(flood.Reason, ": ")
	if by == "" {
		by = "no flood"
	}
	f.unproven[by]++
	if n.file.Benches[bench].Full == nil {
		return nil // that is on the sheet, and told
	}
	guilty, err := n.why(ctx, s, bench)
	if err != nil {
		return err
	}
	to := names[safety.Interlock(by)]
	if slices.ContainsFunc(flood.said, func(s string) bool { return strings.Contains(s, "look at pump and hose, and lift the FULL switch") }) {
		to = slices.Concat(to, names[safety.FillWindow])
	}
	named := slices.ContainsFunc(guilty, func(part string) bool { return slices.Contains(to, part) })
	if named && len(flood.said) > 0 {
		f.told++
		return nil
	}
	f.untold++
	f.wrong = append(f.wrong, fmt.Sprintf("%s, by %s", flood.Reason, strings.Join(guilty, " or ")))
	return nil
}

func (f *firstCount) String() string {
	return fmt.Sprintf("| %d | %d | %d, %.1f %% | %.2f L | %d | %d of %d | %v |",
		f.sites, f.floods, f.proven, 100*float64(f.proven)/float64(max(1, f.floods)), f.spilled, len(f.broken), f.told, f.told+f.untold, f.unproven)
}

// seen is what came of one site that was drawn.
type seen struct {
	refused      bool
	clean, other firstCount // of the sites that the check passes without a word, and of those that it warns of
	rightly      map[string]tally
	err          error
}

// see draws a site and lives its first days.
func see(ctx context.Context, nature *rehearse.Nature, i int) (v seen) {
	r := rand.New(rand.NewPCG(*firstSeed, uint64(i)))
	v.clean.unproven, v.other.unproven = map[string]int{}, map[string]int{}
	n, ok := drawNewcomer(r)
	if v.refused = !ok; v.refused {
		return v
	}
	s := rehearse.Plain(n.day, firstDays, r.Uint64()>>12)
	s.Nature = nature
	into := &v.other
	if len(n.said) == 0 {
		into = &v.clean
	}
	if v.err = into.see(ctx, n, s); v.err == nil {
		v.rightly, v.err = n.rightly(ctx, s)
	}
	return v
}

func (f *firstCount) add(o *firstCount) {
	f.sites, f.floods, f.proven = f.sites+o.sites, f.floods+o.floods, f.proven+o.proven
	f.spilled, f.told, f.untold = f.spilled+o.spilled, f.told+o.told, f.untold+o.untold
	f.broken, f.wrong = append(f.broken, o.broken...), append(f.wrong, o.wrong...)
	for by, n := range o.unproven {
		f.unproven[by] += n
	}
}

// What a check says of a file, held against the first floods of a bench that was built
// by it and that nobody timed: what it passes without a word floods, and what it warns
// of comes true.
func TestWhatTheCheckPassesFloodsOnItsFirstDay(t *testing.T) {
	t.Parallel()
	nature, err := sim.NatureNamed(*firstNature)
	require.NoError(t, err)
	clean, other := firstCount{unproven: map[string]int{}}, firstCount{unproven: map[string]int{}}
	rightly, refused := map[string]tally{}, 0
	enough := fmt.Errorf("enough")
	err = InOrder(t.Context(), 100**firstSites, *firstWorkers, nil, func(ctx context.Context, i int) seen { return see(ctx, nature, i) }, func(_ int, v seen) error {
		if v.refused {
			refused++
		}
		if clean.sites < *firstSites {
			clean.add(&v.clean)
		}
		if other.sites < *firstSites {
			other.add(&v.other)
		}
		for kind, n := range v.rightly {
			rightly[kind] = rightly[kind].with(n)
		}
		if v.err == nil && clean.sites == *firstSites && other.sites == *firstSites {
			return enough
		}
		return v.err
	})
	require.ErrorIs(t, err, enough)
	text := firstTables(&clean, &other, refused, rightly)
	t.Log(text)
	for _, w := range slices.Concat(clean.wrong, other.wrong) {
		t.Log("not told: ", w)
	}
	if *firstInto != "" {
		require.NoError(t, os.WriteFile(*firstInto, []byte(text), 0o600))
	}
	assert.GreaterOrEqual(t, 100*clean.proven, 95*clean.floods)
	assert.Zero(t, clean.spilled+other.spilled)
	assert.Empty(t, clean.broken)
	assert.Empty(t, other.broken)
	assert.Zero(t, clean.untold)
}

func firstTables(clean, other *firstCount, refused int, rightly map[string]tally) string {
	var b strings.Builder
	fmt.Fprintf(&b, "The check refused %d sites more.\n\n", refused)
	b.WriteString("| the check | sites | first floods | proven | spilled | rules broken | told with the right cause | not proven, by |\n|---|---|---|---|---|---|---|---|\n")
	fmt.Fprintf(&b, "| passes it %s\n| warns of it %s\n\n", clean, other)
	b.WriteString("| it warns of | judged by | so warned | came true | not so warned | came true all the same |\n|---|---|---|---|---|---|\n")
	for _, kind := range slices.Sorted(maps.Keys(rightly)) {
		n, by := rightly[kind], "not judged"
		if i := slices.IndexFunc(judges, func(j judge) bool { return j.of == kind }); i >= 0 {
			by = judges[i].by
		}
		fmt.Fprintf(&b, "| %s | %s | %d | %s | %s | %s |\n", kind, by, n.warned, n.of(n.rightly, by != "not judged"), n.of(n.quiet, n.quiet > 0), n.of(n.missed, n.quiet > 0))
	}
	return b.String()
}
