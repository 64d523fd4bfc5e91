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
		assert.Equal(t, m, events[i].Message)
		assert.NotEqual(t, safety.Now{}, events[i].At)
	}
}
