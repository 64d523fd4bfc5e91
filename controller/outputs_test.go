package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

func timeOfDay(t *testing.T, text string) schedule.TimeOfDay {
	at, err := schedule.ParseTimeOfDay(text)
	require.NoError(t, err)
	return at
}

func TestADayOutputIsOnWithinItsHoursAndAsksForTheTurnsThatChangeIt(t *testing.T) {
	for _, hours := range []struct {
		on, off string
		at      map[string]bool // from this second on
		next    map[string]string
	}{
		{"06:00", "22:00",
			map[string]bool{"05:59:59": false, "06:00:00": true, "21:59:59": true, "22:00:00": false},
			map[string]string{"05:59:59": "06:00:00", "06:00:00": "22:00:00", "22:00:00": "06:00:00"}},
		{"20:00", "05:00",
			map[string]bool{"04:59:59": true, "05:00:00": false, "19:59:59": false, "20:00:00": true},
			map[string]string{"04:59:59": "05:00:00", "05:00:00": "20:00:00", "20:00:00": "05:00:00"}},
		{"07:00", "07:00", map[string]bool{"06:59:59": true, "07:00:00": true, "07:00:01": true}, nil},
	} {
		s := testSetup(1, 48*time.Hour, "09:00")
		s.Batches[0].Closed = schedule.DateOf(2026, 3, 1) // no flood asks for a turn
		s.remake()
		s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "lamp", Kind: safety.Other, Enable: -1})
		s.DayOutputs = []DayOutput{{Output: 2, On: timeOfDay(t, hours.on), Off: timeOfDay(t, hours.off)}}
		for clock, on := range hours.at {
			r := newRig(t, s, "2026-03-02 00:00")
			r.now.Wall = r.now.Wall.Add(time.Duration(timeOfDay(t, clock)) * time.Second)
			r.turn()
			assert.Equal(t, on, r.command.On(2), "%s to %s at %s", hours.on, hours.off, clock)
			if next, ok := hours.next[clock]; ok {
				wake := r.now.Wall.Add(r.control.Next() - r.now.Mono)
				assert.Equal(t, next, wake.In(dublin).Format(time.TimeOnly), "%s to %s at %s", hours.on, hours.off, clock)
			}
		}
	}
}

func TestTheStirrerOfTheFloodsReservoirRuns(t *testing.T) {
	s, first := stirred(apart(eachSetup(48*time.Hour, []string{"15:00"}, []string{"09:00"})))
	r := newRig(t, s, "2026-03-02 08:00")
	r.until("2026-03-02 08:49:59")
	assert.False(t, r.command.On(first+1))
	r.until("2026-03-02 08:50:00")
	assert.False(t, r.command.On(first))
	assert.True(t, r.command.On(first+1))
}

func TestNobodyStirsForAFloodThatWaitsForAPerson(t *testing.T) {
	for name, hold := range map[string]func(*rig){
		"paused":     func(r *rig) { require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(5*time.Hour), "")) },
		"sanitised":  func(r *rig) { require.NoError(t, r.control.Sanitise(r.now, 0, "")) },
		"low":        func(r *rig) { r.tables[0].lowDry = true },
		"latched":    func(r *rig) { r.tables[0].high = true },
		"not at all": func(r *rig) {},
	} {
		s, first := stirred(testSetup(1, 48*time.Hour, "09:00"))
		r := newRig(t, s, "2026-03-02 08:00")
		r.turn()
		hold(r)
		r.until("2026-03-02 08:55:00")
		assert.Equal(t, name == "not at all", r.command.On(first), name)
	}
}

func TestAFloodThatNoSlotAskedForIsStirredFirst(t *testing.T) {
	s, first := stirred(testSetup(1, 20*time.Hour, "09:00"))
	r := newRig(t, s, "2026-03-02 08:00")
	r.until("2026-03-02 12:00:00")
	require.NoError(t, r.control.Pause(r.now, 0, r.now.Wall.Add(time.Hour), ""))
	r.until("2026-03-02 13:05:00") // it would be too late for the crop tomorrow
	require.Equal(t, ByCatchUp, r.control.benches[0].queue[0].flood.Cause)
	assert.True(t, r.command.On(first), "while it waits")
	assert.False(t, r.command.On(1))
	r.until("2026-03-02 13:10:02")
	assert.True(t, r.command.On(1))
	assert.False(t, r.command.On(first))
}

func TestTheBuzzerIsSilentForAFloodByHand(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1})
	s.Buzzer, s.BuzzBefore = 2, 10*time.Second
	r := newRig(t, s, "2026-03-02 12:00")
	r.until("2026-03-02 12:20:00")
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.run(2 * time.Second)
	assert.True(t, r.command.On(1))
	assert.False(t, r.command.On(2))
}

func TestTheBuzzerIsAnyOutputAndSoundsForItsTimeAlone(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Outputs[0] = safety.OutputLimits{Name: "buzzer", Kind: safety.Other, Enable: -1}
	s.Limits.Outputs[1].Enable = -1
	s.Buzzer, s.BuzzBefore = 0, 2*time.Second
	for _, stop := range []bool{false, true} {
		r := newRig(t, s, "2026-03-02 08:00")
		r.storage = false // so that the start waits for longer
		r.until("2026-03-02 09:00:01")
		assert.True(t, r.command.On(0))
		if stop {
			require.NoError(t, r.control.StopFlood(r.now, 0))
			r.turn()
		} else {
			r.until("2026-03-02 09:00:02")
		}
		assert.False(t, r.command.On(0))
	}
}

func TestAlarmsHaveTheirLampAndHornWhichMayBeTheBuzzerOfTheStarts(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Outputs = append(s.Limits.Outputs, safety.OutputLimits{Name: "beacon", Kind: safety.Other}, safety.OutputLimits{Name: "horn", Kind: safety.Other})
	lamp, horn := len(s.Limits.Outputs)-2, len(s.Limits.Outputs)-1
	s.AlarmLamps, s.AlarmHorns, s.Buzzer = []int{lamp}, []int{horn}, horn
	r := newRig(t, s, "2026-03-02 08:00")
	r.turn()
	assert.False(t, r.control.want.Other[lamp] || r.control.want.Other[horn])
	r.control.Signal(true, false)
	r.turn()
	assert.True(t, r.control.want.Other[lamp])
	assert.False(t, r.control.want.Other[horn])
	r.control.Signal(true, true)
	r.turn()
	assert.True(t, r.control.want.Other[horn])
}
