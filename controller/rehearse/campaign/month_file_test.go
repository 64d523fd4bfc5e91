package campaign

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
)

func TestAWrittenMonthReadsAsItWas(t *testing.T) {
	for n := range uint64(6) {
		r := rand.New(rand.NewPCG(2, n))
		p, err := drawSite(context.Background(), r, 1+r.IntN(3))
		require.NoError(t, err)
		for m := range months {
			s := drawMonth(r, p.Site, m)
			if m%2 == 1 {
				s.Nature, err = sim.NatureNamed("wild")
				require.NoError(t, err)
			}
			text := write(&s, p.Site.Zone, "a month\nof trouble")
			got, err := rehearse.ParseScenario("s.yaml", []byte(text), p.Site)
			require.NoError(t, err, text)
			assert.Equal(t, inUTC(s), inUTC(got), text)
		}
	}
}

// inUTC is the scenario with its times in one zone, and without what its file
// does not say: only hands-in has an On.
func inUTC(s rehearse.Scenario) rehearse.Scenario {
	utc := func(t time.Time) time.Time {
		if t.IsZero() {
			return time.Time{}
		}
		return t.UTC()
	}
	faults, acts := s.Faults, s.Acts
	s.Faults, s.Acts = nil, nil
	for _, f := range faults {
		f.At, f.Size = utc(f.At), math.Round(1000*f.Size)/1000
		s.Faults = append(s.Faults, f)
	}
	for _, a := range acts {
		a.At, a.Until = utc(a.At), utc(a.Until)
		a.On = a.On && a.Do == "hands-in"
		s.Acts = append(s.Acts, a)
	}
	return s
}
