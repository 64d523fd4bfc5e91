package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/safety"
	"benchtide/schedule"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// reading is a reading of the clocks so long after noon, with the wall clock set
// by so much.
func reading(mono, set time.Duration, trusted bool) safety.Now {
	return safety.Now{Mono: mono, Wall: noon.Add(mono + set), Trusted: trusted}
}

func TestAClockSaysWhatHasBecomeOfIt(t *testing.T) {
	const hour = time.Hour
	known := noon.Add(hour)
	for name, tt := range map[string]struct {
		watch clockWatch
		now   safety.Now
		is    clockChange
	}{
		"it goes on":                 {clockWatch{trusted: true}, reading(hour, 0, true), clockChange{}},
		"it slews":                   {clockWatch{trusted: true}, reading(hour, stepLimit, true), clockChange{}},
		"it steps ahead":             {clockWatch{trusted: true}, reading(hour, stepLimit+1, true), clockChange{step: stepLimit + 1}},
		"it steps back":              {clockWatch{trusted: true}, reading(hour, -hour, true), clockChange{step: -hour}},
		"it is lost":                 {clockWatch{trusted: true}, reading(hour, 0, false), clockChange{lost: true}},
		"it steps and is lost":       {clockWatch{trusted: true}, reading(hour, hour, false), clockChange{lost: true}},
		"it is back":                 {clockWatch{}, reading(hour, 0, true), clockChange{back: true}},
		"it steps and is back":       {clockWatch{}, reading(hour, hour, true), clockChange{back: true}},
		"it is still lost":           {clockWatch{}, reading(hour, 0, false), clockChange{}},
		"a guess changes":            {clockWatch{}, reading(hour, hour, false), clockChange{guessed: true}},
		"one that was known changes": {clockWatch{known: known}, reading(hour, hour, false), clockChange{}},
	} {
		w := tt.watch
		w.wall = noon
		assert.Equal(t, tt.is, w.look(tt.now), name)
		assert.Equal(t, tt.now.Trusted, w.calendar(), name)
		assert.Zero(t, w.look(safety.Now{Mono: tt.now.Mono + 1, Wall: tt.now.Wall.Add(1), Trusted: tt.now.Trusted}), "%s: said once", name)
	}
}

func TestAClockKnowsWhyASlotWasNotInTime(t *testing.T) {
	for reason, turn := range map[string]safety.Now{
		poweredOff:                  reading(time.Hour, 0, true),
		"the clock stepped over it": reading(time.Hour, 5*time.Hour, true),
	} {
		var w clockWatch
		w.begin(reading(0, 0, true))
		w.look(turn)
		assert.Equal(t, reason, w.awayReason(w.since.Add(-1)))
		assert.Equal(t, "the queue deadline passed", w.awayReason(w.since))
	}
	var w clockWatch
	w.begin(reading(0, 0, false))
	w.look(reading(time.Hour, 0, true))
	assert.Equal(t, "the clock was not trusted", w.awayReason(noon.Add(time.Hour-1)))
}

func TestAPersonHearsOfAClockThatStaysInDoubt(t *testing.T) {
	var w clockWatch
	w.begin(reading(time.Hour, 0, true))
	assert.Equal(t, safety.Never, w.tellAt())
	w.look(reading(2*time.Hour, 0, false))
	assert.Equal(t, 2*time.Hour+doubtGrace, w.tellAt())
	w.told = true
	assert.Equal(t, safety.Never, w.tellAt())
	w.look(reading(3*time.Hour, 0, true))
	w.look(reading(4*time.Hour, 0, false))
	assert.Equal(t, 4*time.Hour+doubtGrace, w.tellAt(), "the next time again")
}

func TestAClockThatWasFarAheadIsSetBackOnce(t *testing.T) {
	for set, far := range map[time.Duration]bool{-rearmBeyond: false, -rearmBeyond - 1: true} {
		var w clockWatch
		w.begin(reading(0, 0, true))
		w.reached(reading(0, 0, true))
		now := reading(0, set, true)
		w.look(now)
		reached, back := w.setBack(now)
		assert.Equal(t, noon, reached)
		assert.Equal(t, far, back)
		_, back = w.setBack(now)
		assert.False(t, back)
	}
}

func TestAStepBackIsUndoneByOneAhead(t *testing.T) {
	const day = 24 * time.Hour
	for ahead, undone := range map[time.Duration]bool{day: true, day + rearmBeyond: true, day + rearmBeyond + 1: false, day - rearmBeyond - 1: false} {
		var w clockWatch
		w.begin(reading(0, 0, true))
		assert.False(t, w.undoes(reading(time.Hour, -day, true), -day))
		assert.Equal(t, undone, w.undoes(reading(2*time.Hour, ahead-day, true), ahead), ahead)
		assert.False(t, w.undoes(reading(3*time.Hour, ahead-day, true), ahead), "once")
	}
}

func TestTheDateOfAClockInDoubtIsReckoned(t *testing.T) {
	today, first := schedule.DateOf(2026, 3, 2), schedule.DateOf(2026, 3, 9)
	shows := safety.Now{Mono: 50 * time.Hour, Wall: time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)}
	for name, tt := range map[string]struct {
		watch clockWatch
		now   safety.Now
		is    schedule.Date
	}{
		"trusted":                         {clockWatch{trusted: true}, reading(0, 0, true), today},
		"known before, and powered since": {clockWatch{known: noon, knownAt: 2 * time.Hour}, shows, today + 2},
		"never known":                     {clockWatch{}, shows, first},
		"never known, and far ahead":      {clockWatch{}, reading(0, 30*24*time.Hour, false), today + 30},
	} {
		assert.Equal(t, tt.is, tt.watch.today(schedule.CivilIn(tt.watch.believed(tt.now), time.UTC), first), name)
	}
}

func TestWhatAClockKnewOutlivesARestart(t *testing.T) {
	was := clockWatch{known: noon, knownAt: 8 * time.Hour, far: noon.Add(time.Hour), before: noon.Add(-time.Hour)}
	st := State{Mono: 10 * time.Hour}
	was.store(&st)
	var w clockWatch
	w.resume(&st, safety.Now{Mono: time.Hour}, 3*time.Hour, true)
	assert.Equal(t, clockWatch{known: noon, knownAt: -4 * time.Hour, far: was.far, before: noon.Add(11 * time.Hour)}, w,
		"five hours ago, three of them without power")
	w = clockWatch{}
	w.resume(&st, safety.Now{Mono: time.Hour}, 3*time.Hour, false)
	assert.Zero(t, w.before, "by an outage of unknown length nothing can be undone")
	w.resume(&State{Known: noon}, safety.Now{}, 0, true)
	assert.Equal(t, noon, w.far, "of a record that does not say how far it came")
}

func TestAClockThatIsSetBackByLittleTwiceIsSetBackByTheSum(t *testing.T) {
	var w clockWatch
	w.begin(reading(0, 0, true))
	w.reached(reading(0, 0, true))
	for _, now := range []safety.Now{reading(time.Minute, -time.Hour, true), reading(2*time.Minute, -5*time.Hour/2, true)} {
		w.look(now)
		w.reached(now)
	}
	reached, back := w.setBack(reading(2*time.Minute, -5*time.Hour/2, true))
	assert.True(t, back)
	assert.Equal(t, noon.Add(time.Minute), reached)
}
