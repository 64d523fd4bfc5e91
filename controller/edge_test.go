package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
	"benchtide/schedule"
)

// What is just as much as weighings err is nothing yet that a person is told of, and
// no other words hang on it.
func TestJustTheMarginIsNotLost(t *testing.T) {
	for more, told := range map[safety.Litres]int{0: 0, 0.01: 1} {
		c := scales(t, nil)
		margin := c.margin(0)
		c.shows(0, 0, margin+more)
		assert.Len(t, said(c), told, "a pair of weighings, and %v L", more)

		c = scales(t, nil)
		c.tanks[0].Before = stretch{Over: 1, Hours: 3, Bench: c.name(0), From: c.now.Wall}
		c.rejudge(0, margin-1+more)
		assert.Len(t, said(c), told, "a top-up that was written down late, and %v L", more)

		c = scales(t, nil)
		hold(c, 9, 140+margin+more)
		t0 := &c.tanks[0]
		t0.Lacked, t0.home.by = Drunk{}, c.now.Mono
		c.view.Reservoirs[0].Low.Level = safety.Dry
		c.watchHome(0)
		assert.Len(t, said(c), told, "a switch that is not made again, and %v L", more)
	}
}

// A pair that showed just the margin was not told of: more that came between is.
func TestAPairOfJustTheMarginIsToldOfOnceMoreWasPouredIn(t *testing.T) {
	c := scales(t, nil)
	c.tanks[0].Before = stretch{Over: c.margin(0), Hours: 3, Bench: c.name(0), From: c.now.Wall}
	c.rejudge(0, 5)
	assert.Len(t, said(c), 1)
}

func TestJustTheMarginThatCameIsNoTopUp(t *testing.T) {
	for more, came := range map[safety.Litres]int{0: 0, 0.01: 1} {
		c := scales(t, nil)
		hold(c, 9, 150)
		hold(c, 12, 150+c.margin(0)+more)
		assert.Len(t, said(c), came, more)
	}
}

// Litres that were written down too early may differ by what two weighings err.
func TestATopUpIsTheOneThatWasWrittenDownUpToTwoMargins(t *testing.T) {
	for more, undone := range map[safety.Litres]bool{0: true, 0.01: false} {
		c := scales(t, nil)
		k := &c.tanks[0]
		k.Last, k.Missing = Weighing{At: hour(9), Noted: 40}, Unexplained{Litres: 40, At: hour(9)}
		c.came(&Weighing{At: hour(12), Came: 40 - 2*c.margin(0) - more})
		assert.Equal(t, undone, k.Missing.Answer == Undone, more)
	}
}

// What is told of a slow loss is more than its sum.
func TestJustTheSumIsNoSlowLoss(t *testing.T) {
	for more, told := range map[safety.Litres]int{0: 0, 0.01: 1} {
		c := scales(t, nil)
		margin, w := c.margin(0), &c.benches[0].slow
		c.tanks[0].Slow, w.Sum = slowSum*margin+more, 100
		c.seep(0, 0, stretch{Bench: c.name(0)}, hour(12))
		assert.Len(t, said(c), told, "little by little, and %v L", more)

		rise := func(jump, risen safety.Litres) int {
			c := scales(t, nil)
			c.benches[0].slow = slow{Jump: jump, Risen: risen, Pairs: 1}
			c.limits(0).Flood = 72
			c.seep(0, 0, stretch{Bench: c.name(0)}, hour(12))
			return len(said(c))
		}
		margin = lostShare * 72 // with which the next sum lies on the edge to the last bit
		jump := jumpSum*margin + jumpDrift*margin
		require.Equal(t, jumpSum*margin, jump-jumpDrift*margin)
		assert.Equal(t, told, rise(jump+more, 10), "a rise, and %v L", more)
		assert.Equal(t, told, rise(10, jumpRisen*margin+more), "more than plants drink, and %v L", more)
	}
}

// A month to the moment is a month.
func TestASlowLossIsToldAgainAfterAMonthToTheMoment(t *testing.T) {
	for ago, told := range map[time.Duration]int{slowAgain - 1: 0, slowAgain: 1} {
		c := scales(t, nil)
		c.benches[0].slow.Told = hour(12).Add(-ago)
		c.seeps(0, c.name(0), 5, 3, hour(9), hour(12))
		assert.Len(t, said(c), told, ago)

		c.benches[0].slow = slow{Jump: 2, Pairs: 1, Told: hour(12).Add(-ago)}
		c.seep(0, 0, stretch{Bench: c.name(0)}, hour(12))
		assert.Len(t, c.benches[0].usual, 1-told, "a rise that is not told of yet is nothing usual; %s", ago)
	}
}

// What a reservoir is expected to hold counts while it may be out by a tenth.
func TestWhatIsExpectedCountsUpToATenthOfTheReservoir(t *testing.T) {
	for more, basis := range map[safety.Litres]Basis{0: Expected, 0.01: Unknown} {
		c := scales(t, nil)
		hold(c, 9, 180)
		c.tanks[0].Give = mostGive*c.setup.Limits.Reservoirs[0].Usable + more
		c.benches[0].run.flood.ID++
		c.floodRan(0, &safety.BenchView{Started: c.now.Mono, FullAt: c.now.Mono + 1, Stopped: c.now.Mono + 1})
		assert.Equal(t, basis, c.tanks[0].Basis, more)
	}
}

// What pots lack is worked out over a week, and no further back.
func TestWhatPotsLackIsWorkedOutOverAWeek(t *testing.T) {
	for ago, from := range map[time.Duration]time.Duration{mostThirst: mostThirst, mostThirst + 1: 8 * time.Hour} {
		c := scales(t, nil)
		c.benches[0].thirst.At = c.now.Wall.Add(-ago)
		assert.InDelta(t, from.Hours(), float64(c.thirsty(0).Drunk.Hottest), 1e-9, ago)
	}
}

// A clock that is kept right may be off by two minutes: what it dated stays.
func TestWhatAClockDatedStaysUpToTwoMinutes(t *testing.T) {
	c := scales(t, nil)
	is := c.wallOf(c.now.Mono)
	for off, stays := range map[time.Duration]bool{slewed: true, slewed + 1: false, -slewed: true, -slewed - 1: false} {
		assert.Equal(t, stays, c.corrected(is.Add(off), c.now.Mono).Equal(is.Add(off)), off)
		ahead := c.saidAhead(&Said{At: c.now.Mono, Read: is.Add(off)}, &gap{})
		assert.Equal(t, off > slewed, ahead, off)
	}
}

// A skip means a flood within two weeks, and lasts as long.
func TestASkipReachesTwoWeeks(t *testing.T) {
	for early, binds := range map[time.Duration]bool{0: true, time.Minute: false} {
		s := testSetup(1, 48*time.Hour, "09:00")
		s.Batches[0].Transplanted = schedule.DateOf(2026, 3, 16)
		s.remake()
		r := newRig(t, s, "2026-03-02 08:00")
		r.run(time.Hour - early)
		r.turn()
		k := Skip{}
		require.True(t, r.control.bind(0, &k))
		assert.Equal(t, binds, k.Slot != 0, early)
	}
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.turn()
	for over, kept := range map[time.Duration]int{0: 1, 1: 0} {
		s := &r.control.benches[0]
		s.skips = []Skip{{Due: r.now.Mono - maxPause - over}}
		r.control.spend(0, &schedule.Planned{Slot: schedule.Slot{Local: civil("2026-03-02 09:00")}}, floods)
		assert.Len(t, s.skips, kept, over)
	}
}

// A cursor may be ahead by the hour that comes twice, and some.
func TestACursorMayBeAheadByThreeHours(t *testing.T) {
	for more, kept := range map[schedule.Civil]bool{0: true, 1: false} {
		r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
		r.turn()
		c, s := r.control, &r.control.benches[0]
		s.cursor = schedule.CivilIn(c.clock.far, dublin) + astray + more
		s.nextRead = false
		c.nextSlot(0)
		was, next := s.cursor, "2026-03-03 09:00"
		if !kept {
			next = "2026-03-02 09:00"
		}
		c.rearm()
		assert.Equal(t, kept, s.cursor == was, more)
		p, _ := c.nextSlot(0)
		assert.Equal(t, civil(next), p.Slot.Local, more)
	}
}
