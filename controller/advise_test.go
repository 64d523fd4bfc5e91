package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestAdviceIsToldOnceAWeekWhateverRestarts(t *testing.T) {
	r := newRig(t, testSetup(1, 40*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	began, c := r.now, r.control
	at := func(d time.Duration) safety.Now {
		return safety.Now{Mono: began.Mono + d, Wall: began.Wall.Add(d), Trusted: true}
	}
	told := func(d time.Duration, cause string) (n int) {
		c.Advise(at(d), Message{Urgency: ThisWeek, Bench: 0, Cause: cause, Text: cause})
		for _, e := range c.TakeEvents() {
			if e.Kind == MessageSent {
				n++
			}
		}
		return n
	}
	const day = 24 * time.Hour
	c.TakeEvents()
	assert.Equal(t, 1, told(0, "stage"))
	assert.True(t, c.Dirty(), "it is to be stored")
	assert.Equal(t, 0, told(day, "stage"))
	assert.Equal(t, 1, told(day, "question"), "another matter")
	var err error
	c, err = Resume(r.setup, at(2*day), c.State("boot"), "another boot")
	require.NoError(t, err)
	c.TakeEvents()
	assert.Equal(t, 0, told(7*day-1, "stage"), "over a restart")
	assert.Equal(t, 1, told(7*day, "stage"), "a week later once more")
	assert.Equal(t, 0, told(7*day, "question"))
	assert.Equal(t, 1, told(30*day, "question"))
	assert.Len(t, c.State("boot").Advised, 1, "what is long past is not kept")
	assert.Equal(t, 1, told(10*day, "question"), "a clock that was far ahead keeps nothing back")
}
