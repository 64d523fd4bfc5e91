package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// setRightInOutage is a restart in another boot by a clock that was ahead before:
// how long it took nobody will know.
func (r *rig) setRightInOutage(wrong, outage time.Duration, trusted bool) {
	s := r.down(outage)
	r.stepWall(-wrong)
	r.now.Mono, r.now.Trusted = time.Minute, trusted
	r.up(s, "another")
	r.run(20 * time.Minute)
	r.now.Trusted = true
	r.turn()
}

func (r *rig) shown() schedule.Date { return schedule.CivilIn(r.now.Wall, dublin).Date() }

// What a person said holds from the day on which it was said, also where the
// clock was ahead then, or went ahead since, and was set right in an outage.
func TestAWordHoldsWhereAClockThatWasAheadIsSetRightInAnOutage(t *testing.T) {
	acts := map[string]func(*testing.T, *rig){
		"close": func(t *testing.T, r *rig) {
			require.NoError(t, r.control.Close(r.now, 0, r.shown().AddDays(-1)))
		},
		"empty": func(t *testing.T, r *rig) {
			_, err := r.control.Empty(r.now, 0)
			require.NoError(t, err)
		},
	}
	for name, act := range acts {
		for _, wrong := range []time.Duration{3 * time.Hour, tomorrow, 10 * tomorrow} {
			for _, outage := range []time.Duration{time.Minute, 13 * time.Hour} {
				for _, trusted := range []bool{true, false} {
					for _, before := range []bool{true, false} {
						r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-02 07:00")
						r.turn()
						if before {
							act(t, r)
						}
						r.stepWall(wrong)
						r.run(time.Minute)
						if !before {
							act(t, r)
						}
						r.setRightInOutage(wrong, outage, trusted)
						assert.Empty(t, r.starts(3*tomorrow), "%s, %s ahead, off for %s, trusted %v, before %v", name, wrong, outage, trusted, before)
					}
				}
			}
		}
	}
}

func TestAStageIsEnteredWhereAClockThatWasAheadIsSetRightInAnOutage(t *testing.T) {
	r := newRig(t, stagedSetup(true), "2026-03-02 10:00")
	r.turn()
	require.NoError(t, r.control.Advance(r.now, 0, 2))
	r.stepWall(10 * tomorrow)
	r.run(time.Minute)
	r.setRightInOutage(10*tomorrow, time.Minute, true)
	assert.Equal(t, 2, r.control.stageNow(0))
	assert.Len(t, r.starts(tomorrow), 2, "16:00 and 08:00; before it was entered there was one a day")
}

// A last day to come, of a clock that is behind after an outage, is not past once
// that clock is set right.
func TestALastDayToComeIsNotPastOnceAClockThatIsBehindIsSetRight(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-12 07:00")
	r.turn()
	require.NoError(t, r.control.Close(r.now, 0, r.shown().AddDays(1)))
	r.setRightInOutage(5*tomorrow, time.Minute, true)
	r.stepWall(5 * tomorrow)
	assert.Len(t, r.starts(17*time.Hour), 2, "today")
	assert.Len(t, r.starts(tomorrow), 2, "on the last day")
	assert.Empty(t, r.starts(tomorrow))
}

// A flood by elapsed time before an outage of which nobody will ever know how
// long it was stands for no slot.
func TestAFloodOfUnknownAgeStandsForNoSlot(t *testing.T) {
	for name, known := range map[string]bool{"never trusted": false, "set back": true} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "21:00"), "2026-03-12 07:00")
		if !known {
			r = firstStart(t, testSetup(1, 100*time.Hour, "09:00", "21:00"), r.now.Wall)
		}
		r.run(time.Hour)
		r.now.Trusted = false
		r.run(13 * time.Hour)
		require.Len(t, r.control.benches[0].stands, 1, name)
		s := r.down(2*tomorrow + 2*time.Hour)
		r.now.Mono, r.now.Trusted = time.Minute, true
		if known {
			r.stepWall(-5 * tomorrow)
		}
		r.up(s, "another")
		r.run(time.Minute)
		assert.Empty(t, r.control.benches[0].stands, name)
	}
}

// How late a word can have been said leaves out the outages after it alone.
func TestTheLatestMomentOfAWordIsThatOfOutagesOfNoLength(t *testing.T) {
	g := gap{open: true, assumed: 30 * time.Hour, edge: 40 * time.Hour, later: []Lapse{{End: 60 * time.Hour, Assumed: 6 * time.Hour}}}
	for at, latest := range map[time.Duration]time.Duration{
		39 * time.Hour: 69 * time.Hour, 40 * time.Hour: 46 * time.Hour, 59 * time.Hour: 65 * time.Hour, 60 * time.Hour: 60 * time.Hour,
	} {
		assert.Equal(t, latest, g.latest(at), at)
	}
	assert.Equal(t, safety.Never, (&gap{}).latest(safety.Never))
}
