package alarm

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/texts"
	"benchtide/safety"
)

// A trip, the flood that it cut, the drain that is late and the floods that are
// refused since are one thing with a history.
func TestOneCauseIsOneAlarmWithItsHistory(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Today, 0, "high-level"))
	r.until(time.Second)
	r.Raise(r.now(), message(controller.Urgent, 0, "high-level"))
	r.Raise(r.now(), message(controller.Today, 0, "flood"))
	r.until(3 * time.Minute)
	r.Raise(r.now(), message(controller.Urgent, 0, "drain-window"))
	both := latched(safety.HighLevel)
	both.Benches[0].Latched = append(both.Benches[0].Latched, safety.Trip{Interlock: safety.DrainWindow})
	for h := range 30 {
		r.until(time.Duration(h+1) * time.Hour)
		r.Raise(r.now(), message(controller.Today, 0, "refused-high-level"))
		r.See(r.now(), both)
	}
	require.Len(t, r.Alarms(), 1)
	a := r.Alarms()[0]
	assert.Equal(t, "high-level", a.Cause, "the first cause gives it its words")
	assert.Equal(t, "Water too high", a.Words(texts.Titles{}))
	assert.Equal(t, start, a.At)
	assert.Len(t, a.History, mostHistory)
	assert.Equal(t, []string{"flood", "drain-window", "refused-high-level"}, a.Also)
	first := strings.Join(r.told[:2], "\n")
	assert.Contains(t, first, "arose high-level")
	assert.Contains(t, r.told[1], "3m0s arose high-level", "that it does not drain either is told at once")
	r.See(r.now(), &controller.Status{Benches: make([]controller.BenchStatus, 2)})
	assert.False(t, r.Alarms()[0].Active, "all of it ends with the reset")
}

func TestWhatWasToldOfAFloodGoesOverToItsCause(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Today, 0, "flood"))
	r.until(2 * time.Minute)
	r.Raise(r.now(), message(controller.Urgent, 0, "drain-window"))
	n := r.Step(r.now())
	require.Len(t, r.Alarms(), 1)
	assert.Contains(t, n[0].Body, "Since then\n  Mon 2 Mar 12:02  drain-window happened.")
	r.Raise(r.now(), message(controller.Today, 1, "flood"))
	r.Raise(r.now(), message(controller.Urgent, 0, "crop-basil"))
	assert.Len(t, r.Alarms(), 3, "another bench and plants that wait are other things")
}

// A weld is what a hand has to know of first, whatever was told before.
func TestAWeldGivesItsAlarmTheWords(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "drain-window"))
	r.until(time.Minute)
	weld := message(controller.Urgent, 0, "weld")
	r.Raise(r.now(), weld)
	n := r.Step(r.now())
	require.Len(t, r.Alarms(), 1)
	require.Len(t, n, 1)
	assert.Equal(t, weld.Text, r.Alarms()[0].Text)
	assert.Equal(t, "[now] greenhouse, north: A pump relay is welded", n[0].Subject)
}

// Silence about one thing is no silence about another that follows from it.
func TestAShelvedAlarmSilencesNothingUrgentThatFollows(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "drain-window"))
	r.until(time.Minute)
	require.NoError(t, r.Shelve(r.now(), 1, 3*time.Hour, ""))
	r.Raise(r.now(), message(controller.Today, 0, "refused-drain-window"))
	assert.Len(t, r.Alarms(), 1)
	r.Raise(r.now(), message(controller.Urgent, 0, "weld"))
	r.until(2 * time.Minute)
	assert.Equal(t, []string{"0s arose drain-window", "1m0s arose weld"}, r.told)
}

func TestACauseThatComesAndGoesIsOneAlarm(t *testing.T) {
	r := newRig(t)
	none := &controller.Status{Benches: make([]controller.BenchStatus, 2)}
	for n := range 4 {
		r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
		r.See(r.now(), latched(safety.LeakFound))
		r.until(time.Duration(n)*time.Hour + time.Minute)
		r.See(r.now(), none)
		r.until(time.Duration(n+1) * time.Hour)
	}
	require.Len(t, r.Alarms(), 1)
	a := r.Alarms()[0]
	assert.Equal(t, 4, a.Count)
	assert.Equal(t, start, a.At, "since it first came")
	assert.Len(t, a.History, 4)
}

// No line that people see on a locked phone has a name that is for programs.
func TestEveryCauseHasWords(t *testing.T) {
	causes := []string{"messages", "crop-basil_spring", "low-big_tank", "messages-second_person", "lost-tank", "came-tank", "stage-basil", "thermometer-tank"}
	for cause := range called {
		causes = append(causes, cause)
	}
	for _, i := range safety.Interlocks {
		causes = append(causes, string(i), "refused-"+string(i))
	}
	for _, i := range []safety.Interlock{controller.Paused, controller.Sanitising, controller.Attended} {
		causes = append(causes, "refused-"+string(i))
	}
	for _, cause := range causes {
		words := Words(texts.Titles{}, cause)
		assert.NotEqual(t, cause, words)
		assert.NotContains(t, words, "_", cause)
		assert.NotContains(t, words, "%", cause)
		assert.Equal(t, strings.ToUpper(words[:1]), words[:1], cause)
	}
}
