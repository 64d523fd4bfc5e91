package loop_test

import (
	"cmp"
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/hw/sim"
	"benchtide/safety"
	"benchtide/schedule"
)

var sequences = flag.Int("sequences", 25, "random lives to live through, of deaths and of clock steps")

// place is a site and when its lives begin.
type place struct {
	site  *config.Site
	start string
}

func places(t testing.TB) []place {
	return []place{
		{read(t, "../config/example.yaml"), "2026-04-10 00:30"},
		{read(t, "../../testdata/configs/two-benches.yaml"), "2026-04-02 00:30"},
	}
}

const (
	day      = 24 * time.Hour
	lifetime = 4 * day

	// afterlife is long enough for the program to be back from the last death
	// and to settle what came due meanwhile.
	afterlife = 2 * day
)

// lags are how long storage may take: none, a card, a bad card, and two beyond
// what a start waits for its record.
var lags = []time.Duration{0, 20 * time.Millisecond, 400 * time.Millisecond, 2 * time.Second, 4 * time.Second, 10 * time.Second}

func TestDeathsAtRandomLeaveTheFloodsOfALifeWithoutThemOrAnHonestReason(t *testing.T) {
	t.Parallel()
	for _, p := range places(t) {
		t.Run(p.site.Name, func(t *testing.T) {
			t.Parallel()
			whole := begin(t, p.site, p.start, 0)
			whole.live(t, lifetime+afterlife)
			plain := whole.outcomes()
			whole.sound(t, "a life without deaths")
			sum := map[controller.Outcome]int{}
			deaths := 0
			for n := range *sequences {
				chance := rand.New(rand.NewPCG(uint64(n), 1))
				l := begin(t, p.site, p.start, lags[chance.IntN(len(lags))])
				l.doom(t, chance, plain)
				l.live(t, lifetime+afterlife)
				l.compare(plain)
				l.sound(t, fmt.Sprint("sequence ", n))
				deaths += len(l.downs)
				for _, f := range l.outcomes() {
					sum[f.Outcome]++
				}
			}
			t.Logf("%d sequences, %d kills, %s", *sequences, deaths, counted(sum))
			require.NotZero(t, sum[controller.Interrupted])
			require.NotZero(t, sum[controller.Missed])
		})
	}
}

func counted(sum map[controller.Outcome]int) string {
	var parts []string
	for _, o := range slices.Sorted(maps.Keys(sum)) {
		parts = append(parts, fmt.Sprintf("%d %s", sum[o], cmp.Or(o, "under way")))
	}
	return strings.Join(parts, ", ")
}

// doom puts deaths on the agenda, most of them into floods.
func (l *life) doom(t testing.TB, chance *rand.Rand, plain map[schedule.Slot]controller.Flood) {
	floods := slices.SortedFunc(maps.Values(plain), func(a, b controller.Flood) int { return a.Due.Compare(b.Due) })
	for range 1 + chance.IntN(6) {
		at := time.Duration(chance.Int64N(int64(lifetime)))
		if chance.IntN(4) > 0 {
			f := floods[chance.IntN(len(floods))]
			at = f.Due.Sub(l.begun) + time.Duration(chance.Int64N(int64(40*time.Minute))) - 5*time.Minute
			if chance.IntN(3) == 0 { // in its first seconds
				at = f.Due.Sub(l.begun) + time.Duration(chance.Int64N(int64(5*time.Second)))
			}
		}
		l.at(min(max(at, time.Minute), lifetime), func() { l.inject(t, oneDeath(chance)) })
	}
	if l.ill = chance.IntN(4) == 0; l.ill {
		l.at(time.Duration(chance.Int64N(int64(lifetime))), func() {
			l.inject(t, sim.Fault{What: "pump-dead", Where: l.setup.Limits.Benches[0].Name, For: day})
		})
	}
}

func oneDeath(chance *rand.Rand) sim.Fault {
	switch chance.IntN(8) {
	case 0:
		return sim.Fault{What: "power-cut", For: time.Duration(chance.Int64N(int64(30 * time.Hour)))}
	case 1, 2:
		return sim.Fault{What: "power-cut", For: time.Duration(chance.Int64N(int64(30 * time.Minute)))}
	}
	return sim.Fault{What: "process-crash", For: time.Duration(chance.Int64N(int64(2 * time.Minute)))}
}

// compare holds the slots against those of a life without deaths: the same
// floods, or an outcome that a death explains.
func (l *life) compare(plain map[schedule.Slot]controller.Flood) {
	rows := l.outcomes()
	for slot, was := range plain {
		is, ok := rows[slot]
		switch {
		case was.Open(), was.Due.Sub(l.begun) > lifetime:
		case !ok:
			l.breaks("slot %s is gone", slot.Local)
		case is.Outcome == was.Outcome, l.ill:
		case is.Outcome == controller.Interrupted && l.diedWithin(is.Due, is.Ended):
		case is.Outcome == controller.Missed && l.diedWithin(is.Due.Add(-time.Minute), is.Due.Add(3*time.Hour)):
		case is.Outcome == controller.Refused && l.diedWithin(is.Due.Add(-time.Hour), is.Due.Add(3*time.Hour)): // the water may not be back
		case is.Outcome == controller.Refused && strings.HasPrefix(is.Reason, string(safety.RestartStorm)):
		default:
			l.breaks("slot %s is %q (%s), and no death explains it", slot.Local, is.Outcome, is.Reason)
		}
	}
	for slot := range rows {
		if _, ok := plain[slot]; !ok {
			l.breaks("slot %s is in no calendar", slot.Local)
		}
	}
}

// diedWithin reports whether the program was down at some time between two
// moments.
func (l *life) diedWithin(from, to time.Time) bool {
	return slices.ContainsFunc(l.downs, func(s span) bool {
		return !l.begun.Add(s.from).After(to) && (s.to == never || !l.begun.Add(s.to).Before(from))
	})
}

func TestClockStepsAtRandomDoubleNothingAndDropNothing(t *testing.T) {
	t.Parallel()
	for _, p := range places(t) {
		t.Run(p.site.Name, func(t *testing.T) {
			t.Parallel()
			sum := map[controller.Outcome]int{}
			steps := 0
			for n := range *sequences {
				chance := rand.New(rand.NewPCG(uint64(n), 2))
				l := begin(t, p.site, p.start, lags[chance.IntN(len(lags))])
				made, wrong := l.confuse(t, chance)
				steps += made
				l.live(t, lifetime)
				l.checkEverySlot()
				if wrong == 0 {
					l.checkWatered()
				}
				l.sound(t, fmt.Sprint("sequence ", n))
				for _, f := range l.outcomes() {
					sum[f.Outcome]++
				}
			}
			t.Logf("%d sequences, %d clock steps, %s", *sequences, steps, counted(sum))
		})
	}
}

// confuse puts clock steps of 10 s to three years on the agenda, some of them
// with trust lost for a while, and now and then a death. The last day is quiet.
func (l *life) confuse(t testing.TB, chance *rand.Rand) (steps int, wrong time.Duration) {
	for range 1 + chance.IntN(5) {
		at := time.Duration(chance.Int64N(int64(lifetime - 26*time.Hour)))
		by := time.Duration(math.Pow(10, 1+7*chance.Float64()) * float64(time.Second))
		if chance.IntN(2) == 0 {
			by = -by
		}
		if chance.IntN(3) == 0 { // back to where it was
			by = -wrong
		}
		if by == 0 {
			continue
		}
		wrong += by
		steps++
		blind := chance.IntN(3) == 0
		l.at(at, func() {
			if blind {
				l.world.Trust(false)
				l.at(at+time.Duration(chance.Int64N(int64(6*time.Hour))), func() { l.world.Trust(true) })
			}
			l.stepWall(t, by)
		})
	}
	if chance.IntN(3) == 0 {
		l.at(time.Duration(chance.Int64N(int64(lifetime-60*time.Hour))), func() { l.inject(t, oneDeath(chance)) })
	}
	return steps, wrong
}

// checkWatered looks whether a clock that is right again waters every bench.
func (l *life) checkWatered() {
	for b := range l.benches {
		if w := &l.benches[b]; !w.on && w.off < lifetime-20*time.Hour {
			l.breaks("%s was last flooded at %s", l.setup.Limits.Benches[b].Name, w.off)
		}
	}
}

// checkEverySlot holds the rows against the calendar, as far as the program saw
// trusted time come.
func (l *life) checkEverySlot() {
	rows := l.outcomes()
	zone, now := l.setup.Calendar.Zone(), l.world.Now().Wall
	for _, p := range l.setup.Calendar.Between(schedule.CivilIn(l.begun, zone), schedule.CivilIn(l.reached, zone)) {
		lately := p.Due.Before(now) && now.Sub(p.Due) < 3*time.Hour // may still be due
		if _, ok := rows[p.Slot]; !ok && !lately {
			l.breaks("slot %s of %s was dropped", p.Slot.Local, l.setup.Limits.Benches[p.Slot.Bench].Name)
		}
	}
}
