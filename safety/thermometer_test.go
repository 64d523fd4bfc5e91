package safety

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// warm has the thermometer of the rig show a temperature.
func (rg *rig) warm(c Celsius) ReservoirView {
	rg.t.Helper()
	rg.r.Reservoirs[0].Temperature, rg.r.Reservoirs[0].TemperatureOK = c, true
	rg.wait(0)
	return rg.view.Reservoirs[0]
}

// silent has it show nothing.
func (rg *rig) silent() ReservoirView {
	rg.t.Helper()
	rg.r.Reservoirs[0] = ReservoirReadings{Low: rg.r.Reservoirs[0].Low, Temperature: -5}
	rg.wait(0)
	return rg.view.Reservoirs[0]
}

func TestADeadThermometerStopsNoFloodForLong(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.warm(1.5)
	rg.wait(jumpStands)
	cold := rg.now.Mono
	require.Equal(t, Cold, rg.start(0).Interlock)
	v := rg.silent()
	assert.True(t, v.Believed && v.Temperature == 1.5 && v.TemperatureAt == cold)
	rg.to(cold + BelievedFor - tick)
	assert.Equal(t, Cold, rg.start(0).Interlock, "what was cold stays cold for a while")
	rg.wait(tick)
	assert.False(t, rg.start(0).Refused())
	assert.False(t, rg.view.Reservoirs[0].Believed)
	rg.wait(24 * time.Hour)
	assert.False(t, rg.start(0).Refused())
	assert.Equal(t, Cold, func() Interlock { rg.warm(2); return rg.start(0).Interlock }(), "one that is back protects again")
}

func TestAThermometerThatWasNeverReadIsNotBelieved(t *testing.T) {
	rg := newRig(t, site(1))
	rg.g = New(site(1), State{}, rg.now, "boot-1")
	v := rg.silent()
	assert.False(t, v.Believed)
	assert.Equal(t, rg.g.program, v.TemperatureAt, "silent since the start")
}

func TestATemperatureThatJumpsIsBelievedOnceItStands(t *testing.T) {
	rg := newRig(t, site(1))
	require.Equal(t, Celsius(18), rg.warm(18).Temperature)
	assert.Equal(t, Celsius(23), rg.warm(23).Temperature, "as far as a top-up goes in a moment")
	assert.Equal(t, Celsius(23), rg.warm(30).Temperature)
	rg.wait(jumpStands - tick)
	assert.Equal(t, Celsius(23), rg.warm(31).Temperature, "one step before")
	rg.wait(tick)
	assert.Equal(t, Celsius(31), rg.warm(31).Temperature)

	for n := range 90 { // a loose wire
		rg.wait(time.Minute)
		rg.warm([]Celsius{0, 50}[n%2])
	}
	assert.False(t, rg.view.Reservoirs[0].Believed)
	rg.warm(44)
	rg.wait(jumpStands)
	assert.Equal(t, Celsius(44), rg.view.Reservoirs[0].Temperature)
	rg.step(rg.now.Mono + BelievedFor)
	assert.Equal(t, Celsius(20), rg.warm(20).Temperature, "nobody looked for so long that anything may be")
}

func TestAJumpToColdCountsAtOnce(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.warm(20)
	rg.warm(0)
	assert.Equal(t, Cold, rg.start(0).Interlock)
	rg.warm(20)
	assert.False(t, rg.start(0).Refused())
}

func TestATemperatureThatStandsStillForDaysHasStuck(t *testing.T) {
	rg := newRig(t, site(1))
	rg.warm(1)
	stuck := rg.now.Mono
	rg.wait(jumpStands)
	for rg.now.Mono < stuck+frozenFor-time.Hour {
		rg.wait(time.Hour)
	}
	require.True(t, rg.view.Reservoirs[0].Believed)
	rg.to(stuck + frozenFor)
	require.True(t, rg.view.Reservoirs[0].Believed)
	assert.Equal(t, Cold, rg.start(0).Interlock)
	rg.wait(BelievedFor)
	assert.Less(t, rg.view.Reservoirs[0].TemperatureAt, stuck+frozenFor, "believed for the last time before that")
	assert.False(t, rg.view.Reservoirs[0].Believed)
	assert.False(t, rg.start(0).Refused(), "a sensor that has stuck is no reason to let plants dry out")
	assert.True(t, rg.warm(1.0625).Believed, "its last digit moves again")
}

func TestAReloadIsNoNewThermometer(t *testing.T) {
	rg := newRig(t, site(1))
	rg.warm(1)
	rg.wait(jumpStands)
	rg.silent()
	rg.wait(BelievedFor / 2)
	rg.reload(site(1), sec)
	assert.True(t, rg.view.Reservoirs[0].Believed)
	assert.Equal(t, Celsius(1), rg.view.Reservoirs[0].Temperature)
}

func TestAThermometerThatWasSilentForLongIsNotBelievedAtItsFirstWord(t *testing.T) {
	rg := newRig(t, site(1))
	require.Equal(t, Celsius(18), rg.warm(18).Temperature)
	rg.silent()
	for range 3 {
		rg.wait(BelievedFor)
	}
	require.False(t, rg.view.Reservoirs[0].Believed)
	assert.False(t, rg.warm(45).Believed, "a wire that makes contact shows anything")
	rg.wait(jumpStands - tick)
	assert.False(t, rg.warm(45).Believed, "one step before")
	rg.wait(tick)
	assert.Equal(t, Celsius(45), rg.warm(45).Temperature)
}

func TestAJumpThatStandsIsLookedAtWhenItsTimeIsUp(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.warm(18)
	rg.warm(30)
	jumped := rg.now.Mono
	assert.Equal(t, jumped+jumpStands, rg.g.Next())
	rg.step(jumped + jumpStands/2)
	rg.warm(32) // as near to it as counts for the same
	rg.to(jumped + jumpStands)
	assert.Equal(t, Celsius(32), rg.view.Reservoirs[0].Temperature)
}

func TestAJumpDoesNotStandThroughSilence(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.warm(18)
	rg.warm(30)
	rg.wait(time.Minute)
	rg.silent()
	rg.wait(jumpStands)
	assert.Equal(t, Celsius(18), rg.warm(30).Temperature, "a wire that makes contact now and then")
	rg.wait(jumpStands)
	assert.Equal(t, Celsius(30), rg.view.Reservoirs[0].Temperature)
}

func TestTheColdLimitItselfIsTooColdInSilenceToo(t *testing.T) {
	rg := newRig(t, site(1))
	rg.to(ready)
	rg.warm(ColdLimit)
	rg.wait(jumpStands)
	rg.silent()
	assert.Equal(t, Cold, rg.start(0).Interlock)
}
