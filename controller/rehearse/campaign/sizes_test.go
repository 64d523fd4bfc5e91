package campaign

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/rehearse"
)

var (
	freshSizes = flag.Int("sizes", 1, "how many fresh sizes of leaks to play")
	freshSeed  = flag.Uint64("seed", 1, "what those are drawn from")
)

// freshLeak is a size that nobody chose, with a start of its own: the day of the
// plants and the scatter of the site.
type freshLeak struct {
	size float64
	from int
	seed uint64
}

// drawLeaks draws sizes evenly on a logarithmic scale.
func drawLeaks(n int, seed uint64) (all []freshLeak) {
	r := rand.New(rand.NewPCG(seed, 2633))
	for range n {
		size := math.Exp(between(r, math.Log(0.02), math.Log(1)))
		all = append(all, freshLeak{math.Round(1000*size) / 1000, 10 + r.IntN(25), r.Uint64() >> 12})
	}
	slices.SortFunc(all, func(a, b freshLeak) int { return cmp.Compare(a.size, b.size) })
	return all
}

// TestFreshSizesOfLeaksKeepToTheirBounds plays sizes that nobody chose with each set of
// sensors of the tables, at once and growing, and prints what came of them.
func TestFreshSizesOfLeaksKeepToTheirBounds(t *testing.T) {
	t.Parallel()
	leaks := drawLeaks(*freshSizes, *freshSeed)
	for _, row := range []string{"F33", "F26"} {
		for _, over := range []time.Duration{0, growing} {
			var table strings.Builder
			fmt.Fprintf(&table, "%s, from nothing to its size in %s\n| sensors | floor |", row, over)
			for _, l := range leaks {
				fmt.Fprintf(&table, " %.1f %% |", 100*l.size)
			}
			told := make([][]int, len(leaks))
			for _, f := range leakSets {
				for _, f.drained = range []bool{true, false} {
					f.enable = true
					p := &DrawnSite{Site: f.site(t), pipes: rehearse.Pipes{}}
					fmt.Fprintf(&table, "\n| %s | %s |", f.sensors(), map[bool]string{true: "drains", false: "dry room"}[f.drained])
					for i, l := range leaks {
						c := playLeak(t, p, leak{row, l.size, over}, l.from, l.seed)
						assert.Empty(t, c.faults(), "%s %.1f %% over %s: %s", row, 100*l.size, over, f)
						if f.low != "" {
							assert.Zero(t, c.longestDry, "%s %.1f %% over %s: %s", row, 100*l.size, over, f)
						}
						if f.weighs() {
							told[i] = append(told[i], c.told)
						}
						fmt.Fprintf(&table, " %s |", c.String())
					}
				}
			}
			table.WriteString("\n| where each fill weighs: as a rule, and at the latest | |")
			for i := range told {
				slices.Sort(told[i])
				fmt.Fprintf(&table, " %s, %s |", ordinal(told[i][len(told[i])/2]), ordinal(told[i][len(told[i])-1]))
			}
			t.Log(table.String())
		}
	}
}

func ordinal(flood int) string {
	if flood >= never {
		return "never"
	}
	return fmt.Sprintf("flood %d", flood)
}
