package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

// warmTank is a bench whose reservoir has a thermometer that shows 18 °C.
func warmTank(t *testing.T) *rig {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Reservoirs[0].Thermometer = true
	r := newRig(t, s, "2026-03-02 10:00")
	r.readings.Reservoirs[0].Temperature, r.readings.Reservoirs[0].TemperatureOK = 18, true
	return r
}

func TestAThermometerThatFallsSilentIsToldOnceAndWhenItIsBack(t *testing.T) {
	r := warmTank(t)
	r.run(time.Hour)
	require.Zero(t, r.told("thermometer-tank"))
	r.turn()
	r.readings.Reservoirs[0].TemperatureOK = false
	r.run(safety.BelievedFor - time.Second)
	assert.Zero(t, r.told("thermometer-tank"), "one step before")
	r.run(2 * time.Second)
	require.Equal(t, 1, r.told("thermometer-tank"))
	assert.Contains(t, r.messages[len(r.messages)-1], "today: tank: the thermometer has shown nothing that can be believed for an hour")
	assert.Contains(t, r.messages[len(r.messages)-1], "frost protection is off")
	r.run(22 * time.Hour)
	assert.Equal(t, 1, r.told("thermometer-tank"))
	assert.Equal(t, Proven, r.rows()[0].Outcome, "no flood waits for it")
	st := r.status()
	assert.True(t, st.Reservoirs[0].Thermometer)
	assert.False(t, st.Reservoirs[0].Believed)

	r.restart(5*time.Second, true)
	r.run(3 * time.Hour)
	assert.Equal(t, 1, r.told("thermometer-tank"), "a restart tells nothing anew")
	r.readings.Reservoirs[0].TemperatureOK = true
	r.run(time.Minute)
	require.Equal(t, 2, r.told("thermometer-tank"))
	assert.Contains(t, r.messages[len(r.messages)-1], "can be believed again")
	assert.Equal(t, safety.Celsius(18), r.status().Reservoirs[0].Temperature)
}

func TestAThermometerThatFallsSilentAgainIsToldAgain(t *testing.T) {
	r := warmTank(t)
	for n := range 3 {
		r.readings.Reservoirs[0].TemperatureOK = true
		r.run(time.Hour)
		require.Equal(t, 2*n, r.told("thermometer-tank"))
		r.readings.Reservoirs[0].TemperatureOK = false
		r.run(safety.BelievedFor + time.Minute)
		require.Equal(t, 2*n+1, r.told("thermometer-tank"))
		assert.Contains(t, r.messages[len(r.messages)-1], "frost protection is off")
	}
}

func TestAThermometerThatIsTakenOutOfTheFileIsNoTrouble(t *testing.T) {
	r := warmTank(t)
	r.readings.Reservoirs[0].TemperatureOK = false
	r.run(2 * time.Hour)
	require.Equal(t, 1, r.told("thermometer-tank"))
	r.setup.Limits.Reservoirs[0].Thermometer = false
	r.restart(time.Second, true)
	r.run(2 * time.Hour)
	require.Equal(t, 2, r.told("thermometer-tank"))
	assert.Contains(t, r.messages[len(r.messages)-1], "no thermometer is fitted any more")
}

func TestWithoutAThermometerNobodyIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 10:00")
	r.run(5 * time.Hour)
	assert.Empty(t, r.messages)
	assert.False(t, r.status().Reservoirs[0].Thermometer)
}

func TestThermometersAreLookedAtOnEachReservoirByItself(t *testing.T) {
	s := apart(testSetup(2, 48*time.Hour, "09:00"))
	s.Limits.Reservoirs[1].Thermometer = true
	r := newRig(t, s, "2026-03-02 08:00")
	r.turn()
	c := r.control
	c.view.Reservoirs[1].Believed, c.view.Reservoirs[1].TemperatureAt = false, r.now.Mono
	c.wake = safety.Never
	c.watchThermometers()
	assert.Equal(t, r.now.Mono+safety.BelievedFor, c.wake, "looked at again when its hour is over")
	c.TakeEvents()
	c.now.Mono += safety.BelievedFor
	c.watchThermometers()
	assert.Len(t, said(c), 1, "behind a reservoir that has none")

	c.silent = nil
	c.resumeThermometers([]string{"cistern", "old"})
	assert.Equal(t, []string{"cistern"}, c.silent)
	require.Len(t, said(c), 1, "the one that is no longer fitted")
}

func TestAThermometerThatIsBackSaysNothingOfAnother(t *testing.T) {
	s := apart(testSetup(2, 48*time.Hour, "09:00"))
	for k := range s.Limits.Reservoirs {
		s.Limits.Reservoirs[k].Thermometer = true
	}
	r := newRig(t, s, "2026-03-02 10:00")
	r.run(2 * safety.BelievedFor)
	r.readings.Reservoirs[0].Temperature, r.readings.Reservoirs[0].TemperatureOK = 18, true
	r.run(time.Hour)
	assert.Equal(t, 2, r.told("thermometer-tank"), "silent, and back")
	assert.Equal(t, 1, r.told("thermometer-cistern"))
}
