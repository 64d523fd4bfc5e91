package controller

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestWhatPassesByItselfIsQuiet(t *testing.T) {
	for _, i := range append([]safety.Interlock{safety.HandsIn, Paused, Sanitising, Attended}, safety.Interlocks...) {
		passes := i == safety.MinRest || i == safety.HandsIn || i == Paused || i == Sanitising
		assert.Equal(t, passes, quiet(i), i)
	}
}

func TestARefusedFloodIsToldOfOnceAndHowLongItIsTried(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].lowDry = true
	r.until("2026-03-02 09:30:00")
	r.wantMessage("It is tried until Mon 2 Mar 11:00, then this flood is cancelled.")
	r.tables[0].lowDry, r.tables[0].stuck = false, true // other reasons
	r.until("2026-03-02 10:59:00")
	assert.Greater(t, countKind(r, FloodRefused), 1)
	r.until("2026-03-02 12:00:00")
	assert.Equal(t, 1, strings.Count(strings.Join(r.messages, "\n"), "may not start"))
	assert.Zero(t, r.told("flood"), "nor is its end")
	assert.Equal(t, Refused, r.rows()[0].Outcome)
}

func TestATimedFloodIsBelievedInSilence(t *testing.T) {
	s := testSetup(1, 48*time.Hour, "09:00")
	s.Limits.Benches[0].Full, s.Limits.Benches[0].High = false, false
	r := newRig(t, s, "2026-03-02 08:00")
	r.run(3 * tomorrow)
	assert.Empty(t, r.messages)
}

func TestATripIsToldOfOnceWhetherItLatchesOrNot(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	for _, tt := range []struct {
		event safety.Event
		told  []Urgency
	}{
		{safety.Event{Kind: safety.Tripped, Interlock: safety.FillWindow}, []Urgency{Today}},
		{safety.Event{Kind: safety.Tripped, Interlock: safety.FillWindow, Latched: true}, nil}, // the latch tells
		{safety.Event{Kind: safety.LatchedEvent, Interlock: safety.FillWindow, Latched: true}, []Urgency{Urgent}},
		{safety.Event{Kind: safety.Tripped, Interlock: safety.HandsIn}, nil}, // whoever did it knows
		{safety.Event{Kind: safety.WeldProven, Interlock: safety.DrainWindow}, []Urgency{Urgent}},
		{safety.Event{Kind: safety.SwitchChanged}, nil},
	} {
		r.control.TakeEvents()
		r.control.Heard(r.now, []safety.Event{tt.event})
		var told []Urgency
		for _, e := range r.control.TakeEvents() {
			if e.Kind == MessageSent {
				told = append(told, e.Message.Urgency)
			}
		}
		assert.Equal(t, tt.told, told, "%+v", tt.event)
	}
}

func TestASentenceBeginsWithACapital(t *testing.T) {
	for from, to := range map[string]string{"": "", "a": "A", "z": "Z", "water": "Water", "FULL": "FULL", "2 min": "2 min", "{": "{", "`": "`"} {
		assert.Equal(t, to, sentence(from))
	}
}

func TestHoursAreSaidAsAGrowerSaysThem(t *testing.T) {
	for d, want := range map[time.Duration]string{0: "0 min", 119 * time.Minute: "119 min", 2 * time.Hour: "2 h", 47 * time.Hour: "47 h", 48 * time.Hour: "2 days", 80*24*time.Hour + 20*time.Hour: "80 days 20 h"} {
		assert.Equal(t, want, Lasting(d))
	}
}

func TestMissedSlotsAreToldWithTheirTimes(t *testing.T) {
	for hours, want := range map[time.Duration]string{
		6:   "today: north: the flood of Mon 2 Mar 09:00 was missed (the clock stepped over it). The next is planned for Tue 3 Mar 09:00.",
		30:  "today: north: 2 floods from Mon 2 Mar 09:00 to Tue 3 Mar 09:00 were missed (the clock stepped over it). The next is planned for Wed 4 Mar 09:00.",
		126: "today: north: 6 floods from Mon 2 Mar 09:00 to Sat 7 Mar 09:00 were missed (the clock stepped over it). The next is planned for Sun 8 Mar 09:00.",
	} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.run(10 * time.Minute)
		r.stepWall(hours * time.Hour)
		r.run(time.Minute)
		r.wantMessage(want)
		assert.Equal(t, 1, r.told("missed"))
	}
}

func TestNoTimeIsPromisedByAClockThatIsNotTrusted(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	assert.Equal(t, "The next is planned for Mon 2 Mar 09:00.", r.control.nextText(0))
	r.now.Trusted = false
	r.turn()
	assert.Empty(t, r.control.nextText(0))
}

func TestARefusalThatBecomesALatchedOneIsNews(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	j := &job{flood: Flood{Bench: 0}}
	for _, latched := range []bool{false, false, true, true} {
		r.control.noteRefusal(0, j, safety.Refusal{Interlock: safety.DrainWindow, Latched: latched})
	}
	for _, e := range r.control.TakeEvents() {
		r.note(e)
	}
	assert.Equal(t, 2, countKind(r, FloodRefused))
}

func TestAFloodThatFailedOrWasInterruptedIsTold(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.tables[0].dead = true
	r.run(2 * time.Hour)
	r.wantMessage("the flood of Mon 2 Mar 09:00 is not proven. Filling too slow or too fast")

	r = newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:09:00")
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.run(time.Hour)
	assert.True(t, r.rows()[0].Counted, "five of six minutes")
	r.wantMessage("the flood of Mon 2 Mar 09:00 was interrupted. Stopped by hand")
}

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
		Happened: name + ": water too high (the HIGH switch shows water).",
		Done:     "Its pump stays off until a person resets it.",
		Do:       "Switch off at the mains first, with dry hands. Clear the standpipe and the drain, and look at the HIGH switch and its wire.",
	}, m.Parts)
	assert.Equal(t, m.Happened+" "+m.Done+" "+m.Do, m.Text)
	assert.Equal(t, r.now.Wall.Add(48*time.Hour), m.By, "its crop was watered now and can wait 48 h")
}

func TestHealthyScheduleSaysNothing(t *testing.T) {
	r := newRig(t, testSetup(1, 30*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(20 * tomorrow)
	assert.Empty(t, r.messages)
}

func TestSlotsMissedTogetherAreToldOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
	r.run(time.Hour)
	r.stepWall(100 * tomorrow)
	r.run(time.Hour)
	assert.Equal(t, 1, r.told("missed"))
	r.wantMessage("200 floods from")
}
