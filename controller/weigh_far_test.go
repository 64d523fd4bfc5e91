package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

// Where each refill brings the water back over the switch for one flood of the day
// alone, what went in all of them is told; which of them lost it nobody can say.
func TestWhatGoesInFloodsThatDoNotWeighIsToldAndLatchesNothing(t *testing.T) {
	unweighed := func(c *Controller) {
		c.now.Wall, c.now.Mono = c.now.Wall.Add(3*time.Hour), c.now.Mono+3*time.Hour
		c.benches[0].run.flood.ID++
		c.floodRan(0, &safety.BenchView{Started: c.now.Mono, FullAt: c.now.Mono + 1, Stopped: c.now.Mono + 1})
	}
	for name, tt := range map[string]struct {
		noted, litres safety.Litres
		want          []string
	}{
		"what plants drink":           {0, 171, nil},
		"less than they may":          {0, 175, nil},
		"more":                        {0, 120, []string{"today: north: 41 L more than the plants can have drunk went in 2 floods since Mon 2 Mar 09:00."}},
		"more, and brought back":      {60, 180, []string{"today: north: 41 L more than the plants can have drunk went in 2 floods since Mon 2 Mar 09:00."}},
		"brought, and nobody said so": {0, 240, nil},
	} {
		c := scales(t, nil)
		hold(c, 9, 180)
		said(c)
		unweighed(c)
		c.tanks[0].Noted += tt.noted
		hold(c, 15, tt.litres)
		told := said(c)
		require.Len(t, told, len(tt.want), name)
		for i := range told {
			assert.Contains(t, told[i], tt.want[i], name)
		}
		assert.Equal(t, len(tt.want) > 0, c.tanks[0].Missing.Asked(), name)
		assert.Zero(t, c.tanks[0].Loss.Floods, name)
	}
}
