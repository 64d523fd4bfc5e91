package live

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/safety"
)

// bed is a site of benches on one tank, on which nothing is to be done.
func bed(names ...string) *Status {
	s := &Status{At: "2026-03-12T12:00:00+00:00", ClockTrusted: true}
	for _, n := range names {
		s.Benches = append(s.Benches, BenchStatus{Name: n, Next: &Planned{Due: "2026-03-12T15:00:00+00:00"}, Last: &controller.Row{Outcome: controller.Proven}})
		s.Batches = append(s.Batches, BatchStatus{Name: "basil_" + n, Bench: n, SinceS: 14_400, CanWaitS: 108_000, LimitS: 108_000, Ratio: 0.13})
	}
	return s
}

func (s *Status) attended() *Status {
	s.Attend()
	return s
}

const standing = `the water of bench "north" is not back in reservoir "tank"`

// While one bench of a tank floods, the other waits for its water: nobody is
// needed, and it is said.
func TestWaitingForANeighbourNeedsNobody(t *testing.T) {
	s := bed("north", "south")
	s.Benches[0].Flood = &controller.Row{}
	s.Benches[1].Refusal = &Refusal{Interlock: string(safety.ReservoirLow), Detail: standing}
	assert.Equal(t, "no", s.attended().NeedsYou)
	assert.Empty(t, s.Needs)
	require.Len(t, s.States, 1)
	assert.Equal(t, "south waits: the water of north is not back in tank.", s.States[0].Text)
}

func TestWhatAPersonWantedIsAState(t *testing.T) {
	until := "2026-03-12T18:00:00+00:00"
	s := bed("north", "south")
	s.HandsIn = true
	s.Benches[0].PausedUntil, s.Benches[0].PausedBy = &until, "Kim"
	s.Benches[1].Sanitising, s.Benches[1].Skipped = &until, []SkippedFlood{{Due: until}}
	var words []string
	for _, n := range s.attended().States {
		words = append(words, n.Words)
	}
	assert.Equal(t, "no", s.NeedsYou)
	assert.Equal(t, []string{"Paused", "Being sanitised", "A flood is skipped", "Hands in"}, words)
}

// A trip and all that follows from it are one thing; the plants' time and the
// reset are at its end.
func TestOneCauseIsOneNeed(t *testing.T) {
	s := bed("north")
	s.Benches[0].Latched = []LatchedTrip{
		{At: "2026-03-12T08:36:00+00:00", Interlock: "high-level", Detail: `HIGH of bench "north" shows water or its wire is open`},
		{At: "2026-03-12T08:39:00+00:00", Interlock: "drain-window", Detail: "FULL has not cleared 3 min after the pump stopped"},
	}
	s.Benches[0].Last = &controller.Row{Outcome: controller.Interrupted, Reason: "high-level: HIGH"}
	s.Benches[0].Refusal = &Refusal{Interlock: "high-level", Latched: true}
	require.Len(t, s.attended().Needs, 1)
	n := s.Needs[0]
	assert.Equal(t, "Water too high", n.Words)
	assert.True(t, n.Mains)
	assert.Equal(t, "north: water too high (the HIGH switch shows water or its wire is open). The pump is off and stays off until you reset it. "+
		"Switch off at the mains first, with dry hands. Clear the standpipe and the drain, and look at the HIGH switch and its wire. Then reset north; the plants can wait until Fri 14:00.", n.Text)
	assert.Equal(t, []string{"08:39: does not drain (the FULL switch still showed water 3 min after the pump stopped)."}, n.Then)
	assert.Equal(t, "2026-03-12T08:36:00+00:00", *n.Since)
}

// A welded relay locks every bench behind its enable relay, and is one thing.
func TestAWeldIsOneNeedForAllThatItLocks(t *testing.T) {
	s := bed("north", "south", "east")
	const detail = `the pump relay of bench "south" is welded: pull the plug and replace the relay`
	for i := range s.Benches {
		s.Benches[i].Latched = []LatchedTrip{{At: s.At, Interlock: "drain-window", Words: controller.Welded.Words, Detail: detail}}
	}
	s.Benches[1].Weld = true
	s.Benches[1].Latched[0] = LatchedTrip{At: s.At, Interlock: "drain-window", Words: "Does not drain", Detail: "FULL has not cleared 3 min after the pump stopped"}
	require.Len(t, s.attended().Needs, 1)
	n := s.Needs[0]
	assert.Equal(t, "weld", n.Cause)
	assert.Equal(t, "south: a pump relay is welded, so its pump runs whenever it has power. The enable relay keeps its power off, and nothing floods on south, north and east before a reset. "+
		"Switch off at the mains first, with dry hands. Pull the plug of the pump and have its relay replaced. Then reset south, north and east; the plants can wait until Fri 14:00.", n.Text)
}

// Water too high on one bench keeps those behind the same enable relay from
// flooding: that is the one bench's matter.
func TestAHighSwitchOfANeighbourIsTheNeighboursMatter(t *testing.T) {
	s := bed("north", "south")
	const detail = `HIGH of bench "north" shows water or its wire is open`
	s.Benches[0].Latched = []LatchedTrip{{At: s.At, Interlock: "high-level", Detail: detail}}
	s.Benches[1].Refusal = &Refusal{Interlock: "high-level", Detail: detail}
	assert.Len(t, s.attended().Needs, 1)
	s.Benches[0].Latched = nil
	require.Len(t, s.attended().Needs, 1, "while nothing is latched the refusal is told")
	assert.Equal(t, "south", s.Needs[0].Bench)
	assert.Equal(t, byToday, s.Needs[0].Urgency)
}

// Plants whose bench is locked have no flood to come, whatever the plan says.
func TestAPlannedFloodOfALockedBenchWatersNobody(t *testing.T) {
	s := bed("north")
	s.Batches[0].SinceS, s.Batches[0].Ratio = 95_000, 0.88
	assert.Equal(t, "no", s.attended().NeedsYou)
	s.Benches[0].Latched = []LatchedTrip{{At: s.At, Interlock: "stalled"}}
	require.Len(t, s.attended().Needs, 2)
	assert.Contains(t, s.Needs[1].Text, "no flood is planned in time")
}

// Where a hand could reach a live wire or water, that the supply goes off comes
// before all else that is to be done.
func TestTheMainsComeFirst(t *testing.T) {
	for _, i := range safety.Interlocks {
		k := kindOf(string(i), "", true)
		n := k.need(string(i), "north", "", "", "Then reset north.")
		assert.Equal(t, k.mains, len(n.Do) > 50 && n.Do[:len(controller.MainsOff)] == controller.MainsOff, i)
	}
	for _, i := range []safety.Interlock{safety.LeakFound, safety.HighLevel, safety.DrainWindow, safety.LostWater, weld} {
		assert.True(t, kindOf(string(i), "", true).mains, i)
	}
}

func TestAReservoirThatIsTooLowIsOneNeedForAllItsBenches(t *testing.T) {
	s := bed("north", "south", "east")
	for i := range s.Benches {
		s.Benches[i].Refusal = &Refusal{Interlock: string(safety.ReservoirLow), Detail: `reservoir "tank" is too low: a flood of bench "` + s.Benches[i].Name + `" needs 60 L above the 20 L kept`}
	}
	require.Len(t, s.attended().Needs, 1)
	assert.Equal(t, "north, south and east: too little water (tank is too low; a flood needs 60 L above the 20 L kept). No flood starts meanwhile. Top up the reservoir while the table is empty.", s.Needs[0].Text)
}
