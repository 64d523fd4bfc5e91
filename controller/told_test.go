package controller

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/safety"
)

func TestWhatASinkFoundIsToldWithTheNextTurn(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	m := Message{Urgency: ThisWeek, Bench: 0, Cause: "drift", Text: "clean the intake screen"}
	r.control.Tell(m)
	events := r.control.TakeEvents()
	i := slices.IndexFunc(events, func(e Event) bool { return e.Kind == MessageSent })
	if assert.GreaterOrEqual(t, i, 0) {
		m.By = r.now.Wall.Add(48 * time.Hour)
		assert.Equal(t, m, events[i].Message)
		assert.NotEqual(t, safety.Now{}, events[i].At)
	}
}

func TestAMessageSaysWhatHappenedWhatWasDoneWhatToDoAndByWhen(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.control.Heard(r.now, []safety.Event{{Kind: safety.LatchedEvent, Bench: 0, Interlock: safety.HighLevel, Detail: "HIGH shows water"}})
	events := r.control.TakeEvents()
	m := events[len(events)-1].Message
	name := r.control.name(0)
	assert.Equal(t, Parts{
		Happened: name + ": high-level. HIGH shows water.",
		Done:     "Its pump stays off until a person resets it.",
		Do:       "Clear the standpipe and the drain, and look at the HIGH switch and its wire.",
	}, m.Parts)
	assert.Equal(t, m.Happened+" "+m.Done+" "+m.Do, m.Text)
	assert.Equal(t, r.now.Wall.Add(48*time.Hour), m.By, "its crop was watered now and can wait 48 h")
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
