package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// A record whose cursor no trusted clock has come to is set right, and the slots
// up to it are neither doubled nor dropped.
func TestACursorThatNoTrustedClockCameToIsSetRight(t *testing.T) {
	far := schedule.CivilOf(2036, 1, 1, 15, 0, 0)
	past := schedule.CivilOf(2020, 1, 1, 15, 0, 0)
	for name, tt := range map[string]struct {
		cursor  schedule.Civil
		trusted bool // before the restart
		off     time.Duration
		known   bool // a trusted time is on record
	}{
		"ahead, at a restart":                     {far, true, time.Minute, true},
		"ahead, after days without power":         {far, true, 3 * tomorrow, true},
		"ahead, with a clock that comes later":    {far, false, time.Minute, true},
		"ahead, of a record without a date":       {far, false, time.Minute, false},
		"in the past, of a record without a date": {past, false, time.Minute, false},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		r.until("2026-03-02 10:00:00")
		s := r.down(tt.off)
		k := s.control.Benches["north"]
		k.Base, k.Cursor, k.Skipped = 0, tt.cursor, tt.cursor
		s.control.Benches["north"] = k
		s.control.Trusted = tt.trusted
		if !tt.known {
			s.control.Known, s.control.Far = time.Time{}, time.Time{}
		}
		r.now.Trusted = tt.trusted
		r.up(s, "boot")
		r.run(time.Minute)
		r.now.Trusted = true
		back := r.now.Wall
		r.run(4 * tomorrow)
		slots := r.slots()
		from := schedule.CivilOf(2026, 3, 2, 9, 0, 0)
		if !tt.known {
			from = schedule.CivilIn(back, dublin)
		}
		for at := from; at < schedule.CivilIn(r.now.Wall.Add(-3*time.Hour), dublin); {
			p, ok := r.control.setup.Calendar.After(0, at)
			require.True(t, ok)
			at = p.Slot.Local
			if at < schedule.CivilIn(r.now.Wall.Add(-3*time.Hour), dublin) {
				assert.Contains(t, slots, at, "%s: %v", name, at)
			}
		}
		assert.LessOrEqual(t, r.outcomes()[Missed], 6, "%s: none that was before all this", name)
	}
}

// A first start in a wrong future takes nothing from the slots of the years
// before it.
func TestSlotsThatAWrongFutureDidNotReachHaveTheirIdentity(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00"), "2036-03-02 08:00")
	r.run(2 * tomorrow)
	r.now.Wall = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	r.run(3 * tomorrow)
	for day := 2; day <= 4; day++ {
		assert.Equal(t, Proven, r.slots()[schedule.CivilOf(2026, 6, day, 9, 0, 0)].Outcome)
	}
}

func TestStretchesOfAWrongFutureAreJoinedAndBounded(t *testing.T) {
	s := &bench{}
	s.live(Stretch{10, 20})
	s.live(Stretch{30, 40})
	s.live(Stretch{20, 25})
	assert.ElementsMatch(t, []Stretch{{10, 25}, {30, 40}}, s.lived)
	s.live(Stretch{5, 35})
	assert.Equal(t, []Stretch{{5, 40}}, s.lived)
	for slot, had := range map[schedule.Civil]bool{5: false, 6: true, 40: true, 41: false} {
		assert.Equal(t, had, s.hadOutcome(slot), slot)
	}
	for i := range schedule.Civil(100) {
		s.live(Stretch{100 + 10*i, 101 + 10*i})
	}
	assert.Len(t, s.lived, maxLived)
	for i := range schedule.Civil(100) {
		assert.True(t, s.hadOutcome(101+10*i), "what had its outcome is never forgotten")
	}
}

// A slot that comes again while its flood is under way has that one.
func TestASlotIsNotTakenUpAgainWhileItsFloodIsUnderWay(t *testing.T) {
	for _, at := range []time.Duration{time.Second, 30 * time.Second, 8 * time.Minute, 20 * time.Minute} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.until("2026-03-03 09:00:00")
		r.run(at)
		r.stepWall(3 * time.Hour)
		r.run(20 * time.Second)
		r.stepWall(-3*time.Hour - 2*at)
		r.run(4 * time.Hour)
		assert.Equal(t, 2, r.outcomes()[Proven], "%v into the flood", at)
		assert.InDelta(t, 20, r.pumped[1].Minutes(), 0.4)
		assert.Len(t, r.rows(), 2)
	}
}

func TestASlotIsNotTakenUpAgainWhileItWaits(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-03 08:00:00")
	r.tables[0].lowDry = true
	r.until("2026-03-03 09:00:10")
	r.stepWall(3 * time.Hour)
	r.run(10 * time.Second)
	r.stepWall(-3*time.Hour - time.Minute)
	r.run(5 * time.Minute)
	r.tables[0].lowDry = false
	r.run(4 * time.Hour)
	require.Len(t, r.rows(), 2)
	assert.Equal(t, Proven, r.rows()[1].Outcome)
}

// A flood whose slot a wrong clock had brought forward tells nothing of a crop
// that was watered while it waited.
func TestAFloodOfAWrongFutureRaisesNothingOfACropThatWasWatered(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.until("2026-03-02 08:30:00")
	r.tables[0].lowDry = true
	r.stepWall(tomorrow + time.Hour) // its 09:00 waits
	r.run(time.Minute)
	r.stepWall(-tomorrow - time.Hour)
	require.NoError(t, r.control.Flood(r.now, 0, 0))
	r.tables[0].lowDry = false
	r.run(11 * time.Minute)
	require.Less(t, r.control.CropRatio(0), 0.01)
	r.tables[0].lowDry = true
	r.run(3 * time.Hour)
	assert.False(t, r.control.crops[0].trouble)
	assert.Empty(t, r.cropTold())
}

// A step back that is undone after a restart takes no slot up again.
func TestAStepBackIsUndoneOverARestart(t *testing.T) {
	for name, restart := range map[string]func(*rig){
		"none":             func(*rig) {},
		"in the same boot": func(r *rig) { r.restart(time.Minute, true) },
		"in another boot":  func(r *rig) { r.restart(time.Minute, false) },
		"while it is set": func(r *rig) {
			s := r.down(time.Minute)
			r.now.Wall = r.now.Wall.Add(5 * time.Hour)
			r.up(s, "boot")
			r.now.Wall = r.now.Wall.Add(-5 * time.Hour)
			s = r.down(0)
			r.now.Wall = r.now.Wall.Add(5 * time.Hour)
			r.up(s, "boot")
			r.now.Wall = r.now.Wall.Add(-5 * time.Hour)
			r.turn()
		},
	} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-01 14:00")
		r.until("2026-03-02 09:01:00")
		require.NoError(t, r.control.StopFlood(r.now, 0))
		r.until("2026-03-02 09:30:00")
		r.stepWall(-5 * time.Hour)
		r.run(time.Minute)
		restart(r)
		r.stepWall(5 * time.Hour)
		rows := len(r.rows())
		assert.Empty(t, r.starts(time.Hour), "%s: 09:00 has had its flood, which was stopped", name)
		assert.Len(t, r.rows(), rows, name)
		assert.Equal(t, civil("2026-03-02 09:00"), r.control.benches[0].cursor, name)
	}
}

// A clock that is set back to before the batch stands on its bench shows its first
// slot as the next flood, though it was flooded then: no crop is there to have been
// watered. A skip means that one.
func TestAnEmptyBenchIsNotTakenToBeWatered(t *testing.T) {
	for _, skips := range []bool{false, true} {
		r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-02-27 08:00")
		r.until("2026-03-03 08:00:00")
		r.stepWall(-9 * tomorrow)
		r.run(time.Minute)
		want := "2026-03-01T09:00"
		if skips {
			r.skip()
			want = "2026-03-01T15:00"
		}
		p, ok := r.control.nextFlood(0)
		require.True(t, ok)
		assert.Equal(t, want, p.Slot.Local.String())
		starts := r.starts(7*tomorrow + 8*time.Hour)
		require.NotEmpty(t, starts)
		assert.WithinDuration(t, p.Due, r.now.Wall.Add(starts[0]-r.now.Mono), time.Minute)
	}
}

// A flood that was stopped while it filled is not taken to count: when its time
// comes again it is the next flood, and what a skip leaves out.
func TestAStoppedFloodIsNotTakenToCountWhenItsTimeComesAgain(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "15:00"), "2026-03-01 08:00")
	r.until("2026-03-02 06:00:00")
	r.stepWall(3 * time.Hour)
	r.run(time.Minute)
	require.Equal(t, Filling, r.control.benches[0].phase)
	require.Equal(t, civil("2026-03-02 15:00"), r.skip().Slot.Local)
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.turn()
	r.stepWall(-3 * time.Hour)
	r.turn()
	assert.Empty(t, r.starts(6*time.Hour), "09:00 is left out")
	assert.Len(t, r.starts(6*time.Hour), 1, "15:00 is not")
}

// A clock that is set forth to about what it was goes back to no slot that has come
// due since.
func TestAStepThatIsUndoneLateTakesNothingUpAgain(t *testing.T) {
	r := newRig(t, testSetup(1, 100*time.Hour, "09:00", "12:00", "18:00"), "2026-03-02 08:00")
	r.until("2026-03-02 09:30:00")
	r.stepWall(-3 * time.Hour)
	r.until("2026-03-02 12:01:00")
	require.NoError(t, r.control.StopFlood(r.now, 0))
	r.run(30 * time.Minute)
	r.stepWall(time.Hour)
	assert.Empty(t, r.starts(2*time.Hour), "12:00 was stopped by hand")
}

// A bench is watered when all of its crops are.
func TestABenchOfTwoCropsIsWateredForBothOrNot(t *testing.T) {
	for _, waits := range [][2]time.Duration{{100 * time.Hour, 100 * time.Hour}, {6 * time.Hour, 100 * time.Hour}, {100 * time.Hour, 6 * time.Hour}} {
		s := testSetup(1, waits[0], "09:00", "15:00", "21:00")
		s.Plans = append(s.Plans, testSetup(1, waits[1], "09:00", "15:00", "21:00").Plans[0])
		other := s.Batches[0]
		other.Name, other.Plan = "thyme", 1
		s.Batches = append(s.Batches, other)
		s.remake()
		r := newRig(t, s, "2026-03-02 14:00")
		r.turn()
		p, ok := r.control.setup.Calendar.After(0, civil("2026-03-02 15:00")-1)
		require.True(t, ok)
		assert.Equal(t, waits[0] == waits[1], r.control.wateredFor(0, &p), waits)
	}
}
