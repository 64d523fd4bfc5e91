package alarm

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

func TestAlarmsGoOnAfterARestart(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "high-level"))
	r.until(20 * time.Minute)
	data, err := json.Marshal(r.Save(r.now(), "boot"))
	require.NoError(t, err)
	for _, c := range []struct {
		name string
		now  safety.Now
		boot string
		due  time.Duration // until it is repeated
	}{
		{"in the same boot", safety.Now{Mono: time.Hour + 22*time.Minute, Wall: start.Add(22 * time.Minute), Trusted: true}, "boot", 8 * time.Minute},
		{"in another boot, with the time known", safety.Now{Mono: time.Minute, Wall: start.Add(25 * time.Minute), Trusted: true}, "other", 5 * time.Minute},
		{"in another boot, with the time unknown", safety.Now{Mono: time.Minute}, "other", 10 * time.Minute},
	} {
		var s Saved
		require.NoError(t, json.Unmarshal(data, &s))
		p := Resume(rules(), names, s, c.now, c.boot)
		assert.Empty(t, p.Step(c.now), c.name)
		assert.Equal(t, c.due, p.Next()-c.now.Mono, c.name)
	}
}

func TestShelfEndsWithAnOutageOfUnknownLength(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
	r.until(time.Minute)
	require.NoError(t, r.Shelve(r.now(), r.Alarms()[0].ID, time.Hour, ""))
	p := Resume(rules(), names, r.Save(r.now(), "boot"), safety.Now{Mono: time.Second}, "other")
	assert.Len(t, p.Step(safety.Now{Mono: time.Second}), 1)
}

// The program that tells that storage or a channel has failed tells when it works
// again, unless it ends before.
func TestWhatOnlyTheProgramBeforeWouldHaveTakenBackIsOverOnceSomebodyKnows(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, -1, "storage"))
	for _, cause := range []string{"messages-mail", "output", "settings"} {
		r.Raise(r.now(), message(controller.Today, -1, cause))
	}
	r.until(2 * time.Minute)
	require.NoError(t, r.Acknowledge(0, ""))
	require.Len(t, r.until(3*time.Minute).Alarms(), 4, "they stand until they are gone")

	again := &rig{List: Resume(rules(), names, r.Save(r.now(), "boot"), r.now(), "boot"), t: t, at: r.at}
	assert.Empty(t, again.until(4*time.Minute).Alarms())
	lamp, _ := again.Signals()
	assert.False(t, lamp)

	again = &rig{List: Resume(rules(), names, r.Save(r.now(), "boot"), r.now(), "boot"), t: t, at: r.at}
	again.Raise(r.now(), message(controller.Urgent, -1, "storage"))
	require.NoError(t, again.Acknowledge(0, ""))
	require.Len(t, again.until(4*time.Minute).Alarms(), 1, "the program at hand will take it back")
	again.Raise(r.now(), controller.Message{Urgency: controller.Today, Bench: -1, Cause: "storage", Text: "It works again.", Gone: true})
	assert.Empty(t, again.until(24*time.Hour).Alarms())
}
