package safety

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wired is a site whose outputs have lines, each bench with its own pump behind
// one enable relay.
func wired(names ...string) Limits {
	l := site(len(names))
	for i := range l.Outputs {
		l.Outputs[i].Line = "GPIO" + string(rune('0'+i))
	}
	for i, name := range names {
		l.Benches[i].Name = name
	}
	return l
}

// changed goes on with another version of the file.
func (rg *rig) changed(l Limits) {
	s := rg.g.State()
	next := newRig(rg.t, l)
	next.now = rg.now
	next.g = New(l, s, rg.now, "boot-1")
	next.turn()
	*rg = *next
}

// latchedHigh is a site whose first bench is latched by HIGH.
func latchedHigh(t *testing.T, l Limits) *rig {
	rg := newRig(t, l)
	rg.high(0, Wet)
	rg.wait(2 * sec)
	rg.high(0, Dry)
	rg.wait(2 * sec)
	require.True(t, rg.latched(0, HighLevel))
	return rg
}

func TestALatchGoesWithItsPumpWhateverTheFileCallsTheBench(t *testing.T) {
	rg := latchedHigh(t, wired("north", "south"))
	rg.changed(wired("nord", "south"))
	assert.True(t, rg.latched(0, HighLevel), "under its new name")
	assert.True(t, rg.told(LatchedEvent, 0, HighLevel), "and a person is told")
	assert.False(t, rg.latched(1, HighLevel), "a bench that was there keeps its own state")
	assert.Equal(t, []LeftBench{{Name: "north"}}, rg.view.Left)

	rg.changed(wired("nord", "south"))
	assert.True(t, rg.latched(0, HighLevel))
	rg.changed(wired("north", "south"))
	assert.True(t, rg.latched(0, HighLevel), "named back")
	assert.Equal(t, []LeftBench{{Name: "nord"}}, rg.view.Left)

	require.NoError(t, rg.g.Reset(rg.now, 0, "a leaf"))
	for _, name := range []string{"nord", "north", "nord"} {
		rg.changed(wired(name, "south"))
		assert.Empty(t, rg.b(0).Latched, "a reset counts under every name")
	}
}

func TestALatchFollowsItsPumpToWhicheverPlaceInTheFile(t *testing.T) {
	rg := newRig(t, wired("north", "south"))
	rg.high(1, Wet)
	rg.wait(2 * sec)
	rg.high(1, Dry)
	rg.wait(2 * sec)
	rg.changed(wired("south", "north"))
	assert.True(t, rg.latched(1, HighLevel), "the pump that was south's")
	assert.True(t, rg.latched(0, HighLevel), "and the name")

	rg = latchedHigh(t, wired("north", "south"))
	l := wired("south", "nord")
	l.Outputs[3].Line, l.Outputs[4].Line = l.Outputs[4].Line, l.Outputs[3].Line
	rg.changed(l)
	assert.False(t, rg.latched(0, HighLevel), "south, which moved up in the file")
	assert.True(t, rg.latched(1, HighLevel), "north under its new name, behind one that is not concerned")
}

func TestANewBenchBehindTheEnableRelayOfALatchedOne(t *testing.T) {
	rg := latchedHigh(t, wired("north"))
	rg.changed(wired("north", "south"))
	assert.True(t, rg.latched(1, HighLevel))
	assert.Contains(t, rg.b(1).Latched[0].Detail, `this bench is new behind the enable relay of "north", which is latched`)

	one, two := wired("north"), wired("north", "south")
	noEnable(&one)
	noEnable(&two)
	rg = latchedHigh(t, one)
	rg.changed(two)
	assert.False(t, rg.latched(1, HighLevel), "without relays neither has to do with the other")
}

func TestABenchThatLeftWithoutALatchGivesNothingAway(t *testing.T) {
	rg := newRig(t, wired("north", "south"))
	before := rg.g.State().Benches["north"]
	rg.changed(wired("nord", "south"))
	assert.Equal(t, before.Resets, rg.g.State().Benches["north"].Resets, "nobody has reset it")
	assert.Empty(t, rg.b(0).Latched)
	require.NoError(t, rg.g.Drop(rg.now, "north", "it is nord now"))
	rg.turn()
	assert.Contains(t, rg.events, Event{Kind: Dropped, At: rg.now.Mono, Bench: -1, Left: "north", Detail: "it is nord now"})
}

func TestALatchFollowsItsPumpWhenTwoBenchesChangeNames(t *testing.T) {
	rg := latchedHigh(t, wired("north", "south"))
	rg.changed(wired("south", "north"))
	assert.True(t, rg.latched(0, HighLevel), "the pump that was north's")
	assert.True(t, rg.latched(1, HighLevel), "and the name")
	require.NoError(t, rg.g.Reset(rg.now, 0, "a leaf"))
	rg.changed(wired("south", "north"))
	assert.False(t, rg.latched(0, HighLevel))
	assert.True(t, rg.latched(1, HighLevel))
}

func TestANewBenchTakesOverTheLatchBehindItsEnableRelay(t *testing.T) {
	rg := latchedHigh(t, wired("north"))
	l := wired("nord")
	l.Outputs[3].Line = "GPIO77" // the pump on another line
	rg.changed(l)
	assert.True(t, rg.latched(0, HighLevel))
	rg.changed(wired("north"))
	assert.True(t, rg.latched(0, HighLevel))

	l.Outputs[0].Line, l.Outputs[3].Line = "GPIO78", "GPIO79"
	l.Benches[0].Name = "elsewhere"
	rg.changed(l)
	assert.True(t, rg.latched(0, HighLevel), "it may be either of those that left, with all its lines changed")
	assert.Len(t, rg.view.Left, 2)
}

// rewired gives the first bench other lines.
func rewired(l Limits, pump, enable string) Limits {
	l.Outputs[l.Benches[0].Pump].Line, l.Outputs[0].Line = pump, enable
	return l
}

func TestABenchThatGotAnotherNameAndOtherLinesKeepsItsLatch(t *testing.T) {
	rg := latchedHigh(t, wired("north", "south"))
	rg.changed(rewired(wired("nord", "south"), "GPIO78", "GPIO79"))
	assert.True(t, rg.latched(0, HighLevel))
	assert.True(t, rg.told(LatchedEvent, 0, HighLevel), "and a person is told")
	assert.Contains(t, rg.b(0).Latched[0].Detail, `latched on "north", which left the file, and this bench may be it`)
	assert.False(t, rg.latched(1, HighLevel), "a bench that was there keeps its own state")

	require.NoError(t, rg.g.Reset(rg.now, 0, "a leaf"))
	rg.changed(rewired(wired("nord", "south"), "GPIO78", "GPIO79"))
	assert.False(t, rg.latched(0, HighLevel), "a reset counts")
	require.NoError(t, rg.g.Drop(rg.now, "north", "it is nord now"))
	rg.changed(rewired(wired("nord", "south", "east"), "GPIO78", "GPIO79"))
	assert.False(t, rg.latched(2, HighLevel), "of what was dropped nothing is inherited")
}

func TestALatchedBenchMayComeBackUnderANameThatIsOnRecord(t *testing.T) {
	rg := newRig(t, wired("spare"))
	rg.changed(wired("north"))
	rg.high(0, Wet)
	rg.wait(2 * sec)
	rg.high(0, Dry)
	rg.wait(2 * sec)
	require.True(t, rg.latched(0, HighLevel))
	rg.changed(rewired(wired("spare"), "GPIO78", "GPIO79"))
	assert.True(t, rg.latched(0, HighLevel), "its row is of another pump")
}

func TestABenchOfAnOlderRecordThatLeftMayBeTheNewOne(t *testing.T) {
	rg := latchedHigh(t, site(1)) // no lines on record
	rg.changed(wired("nord"))
	assert.True(t, rg.latched(0, HighLevel))
	require.NoError(t, rg.g.Reset(rg.now, 0, "a leaf"))
	rg.changed(wired("nord"))
	assert.False(t, rg.latched(0, HighLevel), "once")
}

func TestABenchThatLeftTheFileIsKeptUntilItIsDropped(t *testing.T) {
	rg := latchedHigh(t, wired("north", "south"))
	other := wired("south")
	other.Outputs[3].Line = "GPIO4" // south's own
	rg.flood(1, 1)
	rg.unwant(1)
	rg.changed(other)
	assert.False(t, rg.latched(0, HighLevel))
	require.Len(t, rg.view.Left, 1)
	left := rg.view.Left[0]
	assert.Equal(t, "north", left.Name)
	require.NotEmpty(t, left.Latched)
	assert.Equal(t, HighLevel, left.Latched[0].Interlock)
	rg.restart(time.Hour, "boot-2")
	require.Len(t, rg.view.Left, 1, "over a restart")

	assert.ErrorContains(t, rg.g.Drop(rg.now, "south", "sold"), "it is in the file")
	assert.ErrorContains(t, rg.g.Drop(rg.now, "east", "sold"), "nothing is kept")
	assert.ErrorContains(t, rg.g.Drop(rg.now, "north", " "), "say what became of it")
	s := rg.g.State()
	require.NoError(t, rg.g.Drop(rg.now, "north", "sold"))
	assert.True(t, rg.g.Dirty())
	rg.turn()
	assert.Contains(t, rg.events, Event{Kind: Dropped, At: rg.now.Mono, Bench: -1, Left: "north", Interlock: HighLevel, Detail: "sold"})
	assert.Empty(t, rg.view.Left)
	rg.g.StateInto(&s)
	assert.NotContains(t, s.Benches, "north", "nor in a state that is used again")
	assert.Contains(t, s.Benches, "south")
}

func TestAWeldedPumpThatLeftTheFileKeepsItsEnableRelayOpen(t *testing.T) {
	trip := Trip{Interlock: DrainWindow, Latched: true, Detail: "welded"}
	s := State{Boot: "boot-1", Benches: map[string]BenchState{
		"north": {Latched: []Trip{trip}, Weld: true, Pump: "GPIO9", Enable: "GPIO0"},
		"south": {Pump: "GPIO3", Enable: "GPIO0"},
	}}
	rg := newRig(t, wired("south"))
	rg.g = New(rg.l, s, rg.now, "boot-1")
	rg.turn()
	require.True(t, rg.latched(0, DrainWindow))
	assert.ErrorContains(t, rg.g.Reset(rg.now, 0, "all well"), `then drop "north" first`)
	require.NoError(t, rg.g.Drop(rg.now, "north", "its relay is replaced"))
	require.NoError(t, rg.g.Reset(rg.now, 0, "all well"))

	s.Benches["north"] = BenchState{Latched: []Trip{trip}, Weld: true, Pump: "GPIO3", Enable: "GPIO0"}
	delete(s.Benches, "south")
	rg.g = New(rg.l, s, rg.now, "boot-1")
	rg.turn()
	assert.True(t, rg.g.State().Benches["south"].Weld, "a weld goes with its pump")
	assert.False(t, rg.g.State().Benches["north"].Weld)
}

func TestABenchWhoseStateIsLostStartsLatched(t *testing.T) {
	rg := newRig(t, wired("north", "south"))
	s := rg.g.State()
	s.Lost = map[string]string{"north": "its state is damaged", "gone": "its state is damaged"}
	s.Benches["gone"] = BenchState{Runs: []Span{{Start: 1, Stop: 2}}, Highs: []time.Duration{1}}
	rg.g = New(rg.l, s, rg.now, "boot-1")
	rg.turn()
	assert.True(t, rg.latched(0, StateLost))
	assert.True(t, rg.told(LatchedEvent, 0, StateLost))
	assert.False(t, rg.latched(1, StateLost))
	assert.Equal(t, StateLost, rg.view.Left[0].Latched[0].Interlock)
	assert.True(t, rg.g.Dirty())
	again := rg.g.State()
	assert.Empty(t, again.Lost, "the latches stand for it")
	require.NoError(t, rg.g.Reset(rg.now, 0, "looked at it"))
	assert.Equal(t, 1, rg.g.State().Benches["north"].Resets)
	assert.Empty(t, rg.b(0).Latched)
}

func TestABenchOnAnotherPumpMayBeTheOneWhoseStateIsLost(t *testing.T) {
	rg := newRig(t, wired("north", "south"))
	s := rg.g.State()
	s.Lost = map[string]string{"north": "nothing whole is kept"}
	more := newRig(t, wired("north", "south", "east"))
	more.g = New(more.l, s, more.now, "boot-1")
	more.turn()
	assert.True(t, more.latched(0, StateLost))
	assert.False(t, more.latched(2, StateLost), "the pump of north is on record, and not its")
	delete(s.Benches, "north")
	for what, c := range map[string]struct {
		names []string
		lost  []int
	}{
		"as it was":              {[]string{"north", "south"}, []int{0}},
		"the two swapped":        {[]string{"south", "north"}, []int{0, 1}},
		"one is new":             {[]string{"north", "south", "east"}, []int{0, 2}},
		"it left, and all moved": {[]string{"south"}, []int{0}},
	} {
		t.Run(what, func(t *testing.T) {
			rg := newRig(t, wired(c.names...))
			rg.g = New(rg.l, s, rg.now, "boot-1")
			rg.turn()
			for i := range c.names {
				assert.Equal(t, slices.Contains(c.lost, i), rg.latched(i, StateLost), c.names[i])
			}
		})
	}
}

func TestALatchThatWasHandedOverCountsAsTakenOffTheOldName(t *testing.T) {
	rg := latchedHigh(t, wired("north", "south"))
	before := rg.g.State().Benches["north"]
	rg.changed(wired("nord", "south"))
	after := rg.g.State().Benches["north"]
	assert.Empty(t, after.Latched)
	assert.Greater(t, after.Resets, before.Resets, "else an older record would bring it back")
}
