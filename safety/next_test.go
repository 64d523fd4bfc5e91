package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNextIsWhenTheGuardHasSomethingToDo(t *testing.T) {
	everything := func() Limits {
		l := site(1)
		l.Benches[0].Empty, l.Benches[0].Leak, l.Reservoirs[0].Low = true, true, true
		return l
	}
	// Each case ends at a time of which the next is told from.
	for name, c := range map[string]struct {
		l    Limits
		do   func(*rig)
		next time.Duration // from then
	}{
		"a new program waits for the tables":   {site(1), func(*rig) {}, 10 * mins},
		"an empty bench has nothing to do":     {site(1), func(rg *rig) { rg.to(ready) }, Never},
		"FULL makes":                           {site(1), func(rg *rig) { rg.to(ready); rg.full(0, Wet) }, sec},
		"EMPTY makes":                          {everything(), func(rg *rig) { rg.to(ready); rg.empty(0, Wet) }, sec},
		"HIGH makes":                           {site(1), func(rg *rig) { rg.to(ready); rg.high(0, Wet) }, sec},
		"HIGH at the start persists":           {site(1), func(rg *rig) { rg.r.Benches[0].High.Level = Wet; rg.restart(0, "b") }, sec},
		"HIGH breaks":                          {site(1), func(rg *rig) { rg.to(ready); rg.high(0, Wet); rg.wait(mins); rg.high(0, Dry) }, 3 * sec},
		"low breaks":                           {everything(), func(rg *rig) { rg.to(ready); rg.low(Dry) }, 3 * sec},
		"the button is let go":                 {site(1), func(rg *rig) { rg.r.HandsIn.Level = Wet; rg.to(ready); rg.r.HandsIn.Level = Dry; rg.wait(0) }, 3 * sec},
		"the fill window ends":                 {site(1), func(rg *rig) { rg.flood(0, 1) }, 300 * sec},
		"the counted litres end":               {everything(), func(rg *rig) { rg.l.Reservoirs[0].LowAt = 100; rg.flood(0, 1) }, 160 * sec},
		"a timed run ends":                     {timedSite(), func(rg *rig) { rg.flood(0, 1) }, 200 * sec},
		"a hold ends at its limit":             {site(1), func(rg *rig) { rg.filled(0, 1) }, 399 * sec},
		"lost FULL runs out":                   {site(1), func(rg *rig) { rg.filled(0, 1); rg.full(0, Dry); rg.wait(3 * sec) }, 7 * sec},
		"enable follows the pump":              {timedSite(), func(rg *rig) { rg.flood(0, 1); rg.unwant(0) }, sec},
		"FULL has to clear":                    {site(1), func(rg *rig) { drained(rg); rg.wait(sec) }, 149 * sec},
		"a weld has to show":                   {site(1), func(rg *rig) { drained(rg); rg.wait(150 * sec) }, 150 * sec},
		"water is gone":                        {timedSite(), func(rg *rig) { rg.flood(0, 1); rg.unwant(0); rg.wait(sec) }, 10*mins - sec},
		"a rest that ends while wanted":        {site(1), func(rg *rig) { rg.flood(0, 1); rg.want(0, 2, 0); rg.wait(11 * mins) }, mins},
		"a rest that nobody waits for":         {site(1), func(rg *rig) { rg.flood(0, 1); rg.want(0, 2, 0); rg.unwant(0); rg.wait(11 * mins) }, Never},
		"EMPTY has to clear":                   {everything(), func(rg *rig) { rg.flood(0, 1); rg.unwant(0); rg.wait(9 * mins); rg.empty(0, Wet); rg.wait(5 * mins) }, mins},
		"idle water has to clear":              {site(1), func(rg *rig) { drained(rg); rg.full(0, Dry); rg.wait(4 * mins); rg.full(0, Wet); rg.wait(sec) }, 149 * sec},
		"a failed fill has to come home":       {everything(), func(rg *rig) { failFill(rg, 1, func() { rg.low(Dry) }); rg.wait(14 * mins) }, mins},
		"stirring ends":                        {site(1), func(rg *rig) { rg.to(ready); rg.w.Stir[0] = true; rg.wait(0); rg.wait(mins) }, 14 * mins},
		"hands-in by command is taken at once": {site(1), func(rg *rig) { rg.to(ready); rg.g.SetHandsIn(rg.now, true) }, 0},
	} {
		t.Run(name, func(t *testing.T) {
			rg := newRig(t, c.l)
			c.do(rg)
			if c.next == Never {
				assert.Equal(t, Never, rg.g.Next())
				return
			}
			assert.Equal(t, c.next, rg.g.Next()-rg.now.Mono)
		})
	}
}

// timedSite is a bench without FULL and HIGH.
func timedSite() Limits {
	l := site(1)
	l.Benches[0].Full, l.Benches[0].High = false, false
	return l
}

func TestAWishThatIsWithdrawnNeedsNoTurn(t *testing.T) {
	rg := newRig(t, site(1))
	stopped := drained(rg)
	rg.full(0, Dry)
	rg.to(stopped + rg.l.Benches[0].Drain + sec)
	require.Equal(t, Gone, rg.b(0).Water)
	rg.want(0, 2, mins)
	rg.wait(0)
	require.Equal(t, stopped+rg.l.Benches[0].Drain+RestMargin, rg.g.Next(), "until the pump has rested")
	rg.w.Benches[0].Pump = false
	rg.wait(0)
	assert.Equal(t, Never, rg.g.Next())
}
