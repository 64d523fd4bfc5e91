package rehearse

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/config"
)

// Leaks of every size on the example, its low switch fitted where each fill passes
// it: after how many floods of the leak a person is told, and how much is on the
// floor by the end of the fourth day at the most.
func TestLeaksOfEverySizeAreToldAndRunNoPumpDry(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		what   string
		size   float64
		told   int // by which flood; 0: not told, its litres are stated
		litres float64
	}{
		{"hose-off", 0.05, 2, 50}, {"hose-off", 0.1, 2, 100}, {"hose-off", 0.2, 1, 160},
		{"hose-off", 0.3, 1, 150}, {"hose-off", 0.5, 1, 100}, {"hose-off", 1, 1, 130},
		{"table-leak", 0.05, 0, 40}, {"table-leak", 0.1, 0, 70}, {"table-leak", 0.2, 0, 140},
		{"table-leak", 0.3, 2, 40}, {"table-leak", 0.5, 2, 60}, {"table-leak", 1, 2, 110},
	} {
		t.Run(fmt.Sprintf("%s %.0f %%", c.what, 100*c.size), func(t *testing.T) {
			site := altered(t, "floor: drained", "floor: dry-room")
			rep := rehearsed(t, site, leaking(site, c.what, c.size, 0))
			assert.Zero(t, rep.DryPumpS)
			assert.Empty(t, rep.BrokenInvariants)
			assert.LessOrEqual(t, rep.SpilledL, c.litres)
			if c.told > 0 {
				assert.LessOrEqual(t, floodsUntilTold(rep), c.told)
			}
		})
	}
}

// A leak that grows from nothing over three days never runs the pump dry either.
func TestGrowingLeaksRunNoPumpDry(t *testing.T) {
	t.Parallel()
	for _, size := range []float64{0.1, 0.3, 0.6, 1} {
		for _, floor := range []string{"drained", "dry-room"} {
			site := altered(t, "floor: drained", "floor: "+floor)
			rep := rehearsed(t, site, leaking(site, "hose-off", size, 72*time.Hour))
			assert.Zero(t, rep.DryPumpS, "%v %s", size, floor)
			assert.NotEmpty(t, rep.Messages, "%v %s", size, floor)
		}
	}
}

var leaksFrom = time.Date(2026, 3, 28, 7, 30, 0, 0, time.UTC)

func leaking(site *config.Site, what string, size float64, over time.Duration) Scenario {
	s := Plain(site.Batches[0].Transplanted+24, 6, 3)
	s.Faults = []Fault{{What: what, Where: "north", At: leaksFrom, Size: size, Over: over}}
	return s
}

// floodsUntilTold is in which flood of the leak the first message came.
func floodsUntilTold(rep *Report) (n int) {
	if len(rep.Messages) == 0 {
		return 1000
	}
	for _, f := range rep.Ledger {
		if f.Started != nil && *f.Started >= leaksFrom.Format("2006-01-02T15:04") && *f.Started <= rep.Messages[0].At {
			n++
		}
	}
	return n
}
