package realtime

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/hw"
	"benchtide/safety"
)

var _ hw.Clock = (*Clock)(nil)

// begin is twelve minutes before the first flood of a day of the example.
var begin = time.Date(2026, 3, 12, 8, 18, 0, 0, time.UTC)

func exampleSite(t *testing.T) *config.Site {
	t.Helper()
	site, problems := config.Parse("example.yaml", config.Example)
	require.NoError(t, problems.Err())
	return site
}

func paced(t *testing.T, speed float64) *Clock {
	t.Helper()
	site := exampleSite(t)
	world, err := rehearse.NewWorld(site, begin)
	require.NoError(t, err)
	world.Read(world.Now(), safety.NewReadings(world.Shape())) // nothing is news
	return NewClock(world, speed)
}

func TestBenchTimeGoesAtItsPace(t *testing.T) {
	for _, speed := range []float64{0.5, 1, 60, 1000} {
		synctest.Test(t, func(t *testing.T) {
			c := paced(t, speed)
			from, begun := c.Now().Mono, time.Now()
			require.NoError(t, c.Wait(t.Context(), from+10*time.Minute, nil))
			assert.Equal(t, 10*time.Minute, c.Now().Mono-from)
			assert.Equal(t, c.Now().Mono, c.Mono())
			assert.InDelta(t, 600/speed, time.Since(begun).Seconds(), 0.001)
		})
	}
}

func TestALateWakeUpSlowsTheBenchAndNothingElse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := paced(t, 60)
		from := c.Now().Mono
		require.NoError(t, c.Wait(t.Context(), from+time.Minute, nil))
		time.Sleep(time.Hour) // the machine was busy; this is the test's own time
		assert.Equal(t, time.Minute, c.Now().Mono-from, "no bench time has passed")

		begun := time.Now()
		require.NoError(t, c.Wait(t.Context(), from+2*time.Minute, nil))
		assert.InDelta(t, 1, time.Since(begun).Seconds(), 0.001, "it does not hurry to catch up")
	})
}

func TestAWaitEndsWhenWokenOrStopped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := paced(t, 60)
		from := c.Now().Mono
		wake := make(chan struct{}, 1)
		time.AfterFunc(time.Second, func() { wake <- struct{}{} })
		require.NoError(t, c.Wait(t.Context(), from+time.Hour, wake))
		assert.InDelta(t, 60, (c.Now().Mono - from).Seconds(), 3, "within a slice")

		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		assert.ErrorIs(t, c.Wait(ctx, from+time.Hour, wake), context.DeadlineExceeded)
	})
}
