package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// reload puts other limits in force after off.
func (rg *rig) reload(l Limits, off time.Duration) {
	rg.t.Helper()
	rg.step(rg.now.Mono + off)
	r := NewReadings(l)
	copy(r.Benches, rg.r.Benches)
	copy(r.Reservoirs, rg.r.Reservoirs)
	r.HandsIn = rg.r.HandsIn
	rg.l, rg.r, rg.w = l, r, NewWant(l)
	rg.g = rg.g.Reloaded(l, rg.now)
	rg.turn()
}

// flooded floods a bench of which FULL clears in time, and waits until it may
// flood again.
func (rg *rig) flooded(i int, flood int64) {
	rg.t.Helper()
	rg.want(i, flood, 0)
	require.True(rg.t, rg.pump(i), "%+v", rg.start(i))
	rg.wait(rg.l.Benches[i].Fill)
	rg.full(i, Wet)
	rg.wait(sec)
	rg.unwant(i)
	rg.wait(rg.l.Benches[i].Fall / 2)
	rg.full(i, Dry)
	rg.wait(rg.l.Benches[i].Drain + RestMargin)
}

func TestReloadsAreNoProgramStarts(t *testing.T) {
	for _, boot := range []string{"boot-1", ""} {
		rg := newRig(t, stormy())
		rg.g.boot = boot
		rg.to(ready)
		for flood := range int64(StartsPerHour) {
			rg.flooded(0, flood+1)
			rg.reload(stormy(), sec)
			require.Equal(t, flood+1, int64(rg.g.benches[0].runs.len()), "budgets go on")
		}
		assert.False(t, rg.told(Tripped, -1, RestartStorm))
		assert.False(t, rg.start(1).Refused(), "a table that has drained stays bare: %+v", rg.start(1))
		require.Less(t, rg.now.Mono, ready+time.Hour)
		assert.Equal(t, Starts, rg.start(0).Interlock)
	}
}

func TestProgramStartsAreCountedAcrossReloads(t *testing.T) {
	rg := newRig(t, stormy())
	for flood := range int64(3) {
		rg.wait(3 * mins)
		rg.reload(stormy(), sec)
		rg.want(0, flood+1, 0)
		require.True(t, rg.pump(0), "%+v", rg.start(0))
		rg.wait(sec)
		rg.unwant(0)
		rg.wait(3 * mins)
		rg.reload(stormy(), sec)
		rg.restart(sec, "boot-1")
	}
	assert.True(t, rg.told(Tripped, -1, RestartStorm))
}

func TestAReloadKeepsLatchesRestAndPresence(t *testing.T) {
	rg := newRig(t, site(2))
	rg.filled(0, 1)
	rg.unwant(0)
	rg.wait(rg.g.benches[0].FallLimit() + BreakDelay)
	require.True(t, rg.latched(0, DrainWindow))
	rest := rg.g.benches[0].rest
	rg.g.SetHandsIn(rg.now, true)
	rg.wait(0)
	rg.events = nil
	rg.reload(site(2), sec)
	assert.Equal(t, []Interlock{DrainWindow}, []Interlock{rg.b(0).Latched[0].Interlock})
	assert.Equal(t, rest, rg.g.benches[0].rest)
	assert.Equal(t, Standing, rg.b(0).Water, "the water of its run is still on the table")
	assert.True(t, rg.view.HandsIn)
	assert.Empty(t, rg.events, "nothing began anew")
}

func TestAReloadGoesOnWithWhatSwitchesShowed(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.full(0, Wet)
	rg.wait(MakeDelay)
	shown := rg.now.Mono - MakeDelay
	rg.to(shown + rg.g.benches[0].FallLimit() - sec)
	rg.reload(site(1), tick)
	rg.to(shown + rg.g.benches[0].FallLimit() - tick)
	assert.False(t, rg.latched(0, NotEmpty), "one step before")
	rg.wait(tick)
	assert.True(t, rg.latched(0, NotEmpty), "as long after as without a reload")
}

func TestASwitchThatFluttersIsCountedAcrossReloads(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.Reservoirs[0].Low = true })
	rg.to(ready)
	for n := range chatterLimit + 1 {
		level := Wet
		if n%2 == 0 {
			level = Dry
		}
		rg.low(level)
		rg.wait(BreakDelay)
		if n == chatterLimit/2 {
			rg.reload(rg.l, tick)
		}
	}
	assert.True(t, rg.latched(0, Chatter))
}

// An interlock's half-played judgement on a failed fill is not a program's end.
func TestAReloadIsNoEndOfAFailedFill(t *testing.T) {
	rg := rigWith(t, func(l *Limits) { l.FloorDrained = true })
	rg.g.benches[0].run.homing, rg.g.benches[0].failed = true, true
	rg.g.dirty = true
	rg.reload(rg.l, sec)
	assert.Empty(t, rg.b(0).Latched)
}

func TestWhatIsNewAfterAReloadBeginsAsAtAStart(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.w.Stir[0] = true
	rg.wait(0)
	require.True(t, rg.cmd.On(stirOut))
	rg.wait(half3(10 * mins))
	require.False(t, rg.cmd.On(stirOut), "it has stirred for long enough")
	rg.g = rg.g.Reloaded(site(1), rg.now)
	rg.wait(0)
	assert.False(t, rg.cmd.On(stirOut), "a reload is no new stirring")
	rg.r.HandsIn.Level = Dry
	rg.wait(0)
	rg.w.Stir[0] = true
	l := site(2)
	l.Reservoirs[0].Low, l.Benches[0].Empty = true, true
	rg.reload(l, sec)
	assert.Equal(t, Standing, rg.b(1).Water, "nobody knows what is on a table that is new")
	rg.reload(site(1), sec)
	assert.Len(t, rg.view.Benches, 1)
}

// lined is a site whose pumps have lines of these names.
func lined(name string, lines ...string) Limits {
	l := site(len(lines))
	l.Benches[0].Name = name
	for i, line := range lines {
		l.Outputs[l.Benches[i].Pump].Line = line
	}
	return l
}

func TestALatchStaysWithBenchAndPumpWhateverAReloadMakesOfThem(t *testing.T) {
	for name, to := range map[string]Limits{
		"the bench has another pump line": lined("north", "P2"), "it has another name": lined("east", "P1"),
		"and a bench was added": lined("north", "P1", "P2"), "renamed, and one was added": lined("east", "P1", "P2"),
	} {
		rg := newRig(t, lined("north", "P1"))
		rg.filled(0, 1)
		rg.unwant(0)
		rg.wait(rg.g.benches[0].FallLimit() + BreakDelay)
		require.True(t, rg.latched(0, DrainWindow))
		rg.reload(to, sec)
		assert.NotEmpty(t, rg.b(0).Latched, name)
	}
}

// What a switch showed that is no longer fitted is nothing, and a reservoir that is
// new has nothing to go on from.
func TestAReloadMayFitAndTakeOutSwitchesAndReservoirs(t *testing.T) {
	fitted := func(low, thermometer bool) Limits {
		l := site(1)
		l.Reservoirs[0].Low, l.Reservoirs[0].LowAt, l.Reservoirs[0].Thermometer = low, 150, thermometer
		return l
	}
	rg := newRig(t, fitted(true, true))
	rg.to(ready)
	rg.reload(fitted(false, false), sec)
	assert.Equal(t, Absent, rg.view.Reservoirs[0].Low.Level)
	assert.False(t, rg.view.Reservoirs[0].Believed, "nobody measures it any more")
	rg.wait(time.Hour)
	rg.r.Reservoirs[0].TemperatureOK = false
	rg.r.Reservoirs[0].Low.Level = Wet
	rg.reload(fitted(true, true), sec)
	assert.Equal(t, rg.now.Mono, rg.view.Reservoirs[0].TemperatureAt, "silent since it was fitted")
	assert.Equal(t, Switch{Wet, rg.now.Mono}, rg.view.Reservoirs[0].Low)

	l := fitted(true, true)
	other := l.Reservoirs[0]
	other.Name = "cistern"
	l.Reservoirs = append(l.Reservoirs, other)
	shown := rg.now.Mono
	rg.reload(l, sec)
	assert.Equal(t, shown, rg.view.Reservoirs[0].Low.Since, "that of the old one goes on")
	assert.Len(t, rg.view.Reservoirs, 2)
}

func TestAReloadKeepsTheLongerRest(t *testing.T) {
	drain := func(d time.Duration) Limits {
		l := site(1)
		l.Benches[0].Drain = d
		return l
	}
	rg := newRig(t, drain(10*mins))
	rg.reload(drain(20*mins), sec)
	assert.Equal(t, 20*mins, rg.start(0).Until, "of the start of the program")
	rg.to(20 * mins)
	rg.flooded(0, 1)
	stopped := rg.b(0).Stopped
	rg.reload(drain(30*mins), sec)
	assert.Equal(t, stopped+30*mins+RestMargin, rg.start(0).Until, "of the last run")
	rg.reload(drain(10*mins), sec)
	assert.Equal(t, stopped+30*mins+RestMargin, rg.start(0).Until)

	rg.to(stopped + 40*mins)
	rg.now.Trusted = false
	rg.restart(time.Minute, "boot-2")
	until := rg.start(0).Until
	rg.reload(drain(10*mins), sec)
	assert.Equal(t, until, rg.start(0).Until, "of a start that does not know how long the power was off")
}
