package campaign

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/drift"
)

func TestDrawnSitesAreSoundAndDiffer(t *testing.T) {
	seen := map[string]bool{}
	for n := range uint64(12) {
		p, err := drawSite(context.Background(), rand.New(rand.NewPCG(1, n)), 1+int(n)%3)
		require.NoError(t, err)
		assert.False(t, seen[p.Text])
		seen[p.Text] = true
	}
}

// A site that only just holds while nothing is wrong does not hold for long: a
// reservoir that stands higher, or dry pots, take what is left.
func TestWaterOfACalmDayLeavesATenthOfEachWindow(t *testing.T) {
	const s = time.Second
	held := drift.Windows{FillFrom: 100 * s, FillBy: 300 * s, FallBy: 300 * s, DrainBy: 600 * s}
	// flood is one that filled, fell and drained in these times.
	flood := func(fill, fall, drain time.Duration) *controller.Flood {
		run := fill + 300*s
		start := time.Date(2026, 3, 4, 8, 30, 0, 0, time.UTC)
		return &controller.Flood{Fill: fill, Fall: fall, Run: run, Started: start, Ended: start.Add(run + drain)}
	}
	for _, c := range []struct {
		name              string
		fill, fall, drain time.Duration
		says              string
	}{
		{name: "as computed", fill: 200 * s, fall: 200 * s, drain: 400 * s},
		{name: "at every edge", fill: 270 * s, fall: 270 * s, drain: 540 * s},
		{name: "as quick as may be", fill: 112 * s, fall: 1 * s, drain: 1 * s},
		{name: "fills slowly", fill: 271 * s, fall: 200 * s, drain: 400 * s, says: "filled in 4 min 31 s"},
		{name: "fills quickly", fill: 111 * s, fall: 200 * s, drain: 400 * s, says: "filled in 1 min 51 s"},
		{name: "falls slowly", fill: 200 * s, fall: 271 * s, drain: 400 * s, says: "fell in 4 min 31 s"},
		{name: "drains slowly", fill: 200 * s, fall: 200 * s, drain: 541 * s, says: "drained in 9 min 1 s"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := tight(held, flood(c.fill, c.fall, c.drain))
			if c.says == "" {
				assert.NoError(t, err)
				return
			}
			assert.ErrorContains(t, err, c.says)
		})
	}

	t.Run("without EMPTY nothing times the rest", func(t *testing.T) {
		blind := held
		blind.DrainBy = 0
		assert.NoError(t, tight(blind, flood(200*s, 200*s, time.Hour)))
	})
}
