package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/texts"
	"benchtide/controller/texts/plain"
	"benchtide/safety"
)

func TestDetailsNameBenchesAndReservoirsByTheirTitles(t *testing.T) {
	var called texts.Titles
	texts.Entitle(&called.Benches, "south", "Sued: the HIGH switch")
	texts.Entitle(&called.Reservoirs, "south", "北の水槽")
	for detail, want := range map[string]string{
		`the welded pump of bench "south" ran`: "the welded pump of Sued: the HIGH switch ran",
		`reservoir "south" is too low`:         "北の水槽 is too low",
		`bench "big_east" holds the water`:     "big east holds the water",
		`output "south" is deaf`:               "output south is deaf",
	} {
		assert.Equal(t, want, Plainly(called, detail, "north"))
	}
	assert.Equal(t, "it ran", Plainly(called, `it ran on bench "south"`, "south"), "the bench that is spoken of is not named again")
}

func TestEveryInterlockIsCalledWhatPeopleCallIt(t *testing.T) {
	seen := map[string]bool{}
	for _, i := range append([]safety.Interlock{safety.HandsIn, Paused, Sanitising, Attended}, safety.Interlocks...) {
		words := Called(i)
		assert.NotContains(t, words, "-", i)
		assert.Equal(t, strings.ToUpper(words[:1]), words[:1])
		assert.False(t, seen[words], "%s: two are called so", words)
		seen[words] = true
	}
	assert.Equal(t, "another", Called("another"))
}

// What is recorded of a flood names switches and rules as programs do; people
// read it in their words, and the bench once.
func TestReasonsReadAsPeopleSpeak(t *testing.T) {
	for reason, want := range map[string]string{
		`high-level: HIGH of bench "north" shows water or its wire is open`: "water too high (the HIGH switch shows water or its wire is open)",
		`high-level: HIGH of bench "south" shows water or its wire is open`: "water too high (the HIGH switch of south shows water or its wire is open)",
		"fill-window: FULL was not made within 4 min 35 s":                  "filling too slow or too fast (the FULL switch showed no water within 4 min 35 s)",
		`chatter: switch "leak" changed more than 6 times within 10 s`:      "a switch flutters (the floor sensor changed more than 6 times within 10 s)",
		`stale: the board did not obey: read back: no such device`:          "an output did not obey (read back; no such device)",
		`stale: switch "low" was last read 0.6 s ago`:                       "a switch is not read (the low switch was last read 0.6 s ago)",
		"min-rest": "resting between floods",
		`reservoir-low: the water counted reached what reservoir "tank" keeps, and no FULL switch shows that they come back`: "too little water (the water counted reached what tank keeps, and no FULL switch shows that they come back)",
		"stopped by hand": "stopped by hand",
		"FULL stood for 2 min of 6 min; reservoir-low: the water counted reached what reservoir \"big_tank\" keeps": "the FULL switch showed water for 2 min of 6 min; too little water (the water counted reached what big tank keeps)",
		"FULL was never made; the retry was refused: paused: until Mon 2 Mar 14:00":                                 "the FULL switch never showed water; the retry was refused, paused (until Mon 2 Mar 14:00)",
		`drain-window: the pump relay of bench "south" is welded: pull the plug and replace the relay`:              "a pump relay is welded (the pump relay of south is welded; pull the plug and replace the relay)",
	} {
		assert.Equal(t, want, Reads(texts.Titles{}, reason, "north"))
	}
}

// No message that a person reads has a name that is for programs.
func TestMessagesNameNoInterlock(t *testing.T) {
	var codes []string
	for _, i := range safety.Interlocks {
		codes = append(codes, string(i))
	}
	for name, fault := range map[string]func(*rig){
		"dead":    func(r *rig) { r.tables[0].dead = true },
		"blocked": func(r *rig) { r.tables[0].blocked = true },
		"high":    func(r *rig) { r.tables[0].high = true },
		"dry":     func(r *rig) { r.tables[0].lowDry = true },
		"stuck":   func(r *rig) { r.tables[0].stuck = true },
		"lost": func(r *rig) {
			r.until("2026-03-02 08:30:00")
			r.guard.FoundLost(r.now, 0, "12 L are gone")
		},
	} {
		r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		fault(r)
		r.run(30 * time.Hour)
		assert.NotEmpty(t, r.messages, name)
		for _, m := range r.messages {
			assert.Empty(t, plain.Faults(m[strings.Index(m, ": ")+2:], codes, nil), name)
		}
	}
}

// A weak pump runs the count of a reservoir out, too: people who find it full have to be
// sent on.
func TestACountThatRanOutBeforeFullSendsToPumpAndHoseToo(t *testing.T) {
	detail := `the water counted reached what reservoir "tank" keeps`
	slow := Remedy(safety.ReservoirLow, detail+safety.BeforeFull)
	assert.Contains(t, slow, "Top up the reservoir")
	assert.Contains(t, slow, "look at pump and hose")
	assert.True(t, strings.HasPrefix(slow, MainsOff))
	assert.NotContains(t, Remedy(safety.ReservoirLow, detail), "pump")
}
