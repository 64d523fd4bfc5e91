package commission_test

import (
	"bytes"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/quantity"
	"benchtide/hw/sim"
	"benchtide/safety"
)

func TestAWholeCommissioningMeasuresTheBench(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(nil)
	require.NoError(t, err, "%s", &v.said)
	v.allOff()
	assert.Equal(t, strings.Fields("begun passed awaited passed awaited passed awaited passed awaited passed passed awaited passed passed passed "+
		"passed·north passed·north passed passed·north timed·north timed·north timed·north calibrated·north passed·north passed·north "+
		"passed·north passed·north passed·north passed·north awaited passed awaited passed passed commissioned"),
		strings.Fields(strings.ReplaceAll(strings.Join(v.words(), "\n"), " ", "·")))
	st := v.judge()
	cycle := st.Cycles["north"]
	assert.InDelta(t, v.ledger.Floods[1].Fill.Seconds(), cycle.Fill.Seconds(), 2)
	assert.Equal(t, 9*time.Minute, cycle.Drain.Round(time.Second))
	assert.InEpsilon(t, 1279, float64(cycle.Flow), 0.07, "what the simulated pump really brings up to FULL")
	assert.Less(t, v.world.Truth().Totals.Spilled, 1e-9)
	assert.Equal(t, 10, v.starts("flood_pump"), "one flood, three, five rehearsals and one; the timed ones have stood the longest hold")
	for _, f := range v.ledger.Floods {
		assert.Equal(t, controller.ByHand, f.Cause, "those of the schedule wait")
	}
	assert.Contains(t, v.said.String(), "T_fill    3 min 3 s (3 min 30 s by the file)")
	told := regexp.MustCompile(`flow (\d+) L/h, give or take (\d+) L/h; area that fills [\d.]+ m², give or take [\d.]+ m²; the drain takes [\d.]+ times what the file says, give or take [\d.]+\.`).FindStringSubmatch(v.said.String())
	require.Len(t, told, 3, "%s", &v.said)
	flow, _ := strconv.ParseFloat(told[1], 64)
	give, _ := strconv.ParseFloat(told[2], 64)
	assert.InDelta(t, 1279, flow, give)
	assert.Less(t, give, 0.25*flow)
}

func TestLimitsAreTheSameFromTheRecordAndFromWhatItSaysToWriteInTheFile(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(nil)
	require.NoError(t, err, "%s", &v.said)
	found := regexp.MustCompile(`cycle: \{.*\}`).FindString(v.said.String())
	text := regexp.MustCompile(`cycle: \{[^}]*\}`).ReplaceAllLiteral(config.Example, []byte(found))
	site, problems := config.Parse("pasted.yaml", text)
	require.NoError(t, problems.Err(), found)
	calibrated, err := v.judge().Apply(v.site)
	require.NoError(t, err)
	want, got := calibrated.Limits().Benches[0], site.Limits().Benches[0]
	assert.InEpsilon(t, float64(want.Flow), float64(got.Flow), 1e-3)
	assert.InEpsilon(t, float64(want.Flood), float64(got.Flood), 1e-3)
	assert.InDelta(t, want.Over.Seconds(), got.Over.Seconds(), 0.5)
	assert.InDelta(t, want.Fill.Seconds(), got.Fill.Seconds(), 0.1)
	assert.InDelta(t, want.Drain.Seconds(), got.Drain.Seconds(), 0.1)
	without, problems := config.Parse("without.yaml", regexp.MustCompile(`, flow: [^}]*`).ReplaceAllLiteral(text, nil))
	require.NoError(t, problems.Err())
	assert.Greater(t, math.Abs(float64(without.Limits().Benches[0].Flow/want.Flow)-1), 1e-3, "else flow and free say nothing")
}

func TestNoPumpRunsBeforeItIsPluggedIn(t *testing.T) {
	v := newVisit(t, config.Example)
	person, err := v.run(says{"plug the pumps in": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.Zero(t, v.starts("flood_pump"))
	assert.Zero(t, v.starts("stirrer"))
	assert.Positive(t, v.starts("air"), "what is in no pump circuit has clicked")
	assert.Contains(t, person.asked[2], "Unplug every pump", "before anything clicks")
}

func TestItGoesOnAtTheStepWhereItWasStopped(t *testing.T) {
	v := newVisit(t, wired)
	for _, at := range []string{"stirrer click", "With HIGH down", "Hold Enter", "Who has commissioned"} {
		answers := says{at: {"stop"}}
		if at == "Hold Enter" {
			answers = says{"When the water stands": {"[4 min] scale", "stop"}}
		}
		_, err := v.run(answers)
		require.ErrorIs(t, err, commission.ErrStopped, at)
		v.allOff()
		v.cp = v.ledger.Checkpoint
	}
	_, err := v.run(nil)
	require.NoError(t, err, "%s", &v.said)
	assert.Equal(t, commissionedVisit(t).words(), v.words(), "each step passed once, and no timed flood was lost")
}

func TestAStopInMidFloodPutsEverythingOff(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"When the water stands": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	v.allOff()
	last := v.ledger.Floods[len(v.ledger.Floods)-1]
	assert.Equal(t, controller.Interrupted, last.Outcome)
	assert.False(t, v.ledger.Checkpoint.Guard.HandsIn)
}

func TestHandsInEndsWithTheDialogueThatGaveIt(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"stirrer click": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.False(t, v.ledger.Checkpoint.Guard.HandsIn)
}

func TestHandsInThatWasLeftOnDoesNotKeepTheFloodsOff(t *testing.T) {
	v := newVisit(t, config.Example)
	v.cp = &loop.Checkpoint{Guard: safety.State{HandsIn: true}}
	_, err := v.run(says{"Tables bare": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.Equal(t, 1, v.starts("flood_pump"))
}

func TestWhatIsNotAsTheFileSaysFailsTheCheck(t *testing.T) {
	for question, remedy := range map[string]string{
		"line by line":        "put the file or the wiring right",
		"relay stay silent,":  "the other polarity",
		"without its wire":    "has to mean off",
		"drop as the power":   "lets go without power",
		"test button":         "plug no pump in",
		"is each one unplugg": "unplug the pumps first",
		"stirrer click":       "look at the line of stirrer",
		"With HIGH lifted":    "wire HIGH in series",
		"With HIGH down":      "look at the wire of HIGH",
		"the water go where":  "mend the pump, hose",
		"Did the standpipe":   "widen the standpipe",
		"pump stop at once":   "look at HIGH",
		"pump stop as the po": "look at the pulls",
		"network in again":    "without it nobody is told",
	} {
		v := newVisit(t, config.Example)
		if question == "is each one unplugg" {
			question = "Is each one unplugged"
		}
		untimed := append(append(strings.Fields(strings.Repeat("yes ", 7)), "skip"), "yes")
		_, err := v.run(says{question: {"no"}, "Do it now?": untimed})
		require.ErrorIs(t, err, commission.ErrFailed, question)
		require.ErrorContains(t, err, remedy)
		v.allOff()
		assert.NotContains(t, v.words(), "commissioned")
	}
}

func TestARelayMayClickAgain(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"air click": {"again", "perhaps", "again", "yes"}, "Hold Enter": {"stop"}})
	require.Error(t, err)
	assert.Equal(t, 3, v.starts("air"))
	assert.Contains(t, v.said.String(), "Write one of yes, again, no, or stop.")
}

func TestADeadSwitchIsFound(t *testing.T) {
	for where, fault := range map[string]sim.Fault{
		"north.full": {What: "full-stuck-low", Where: "north"},
		"north.high": {What: "high-dead", Where: "north"},
		"tank.low":   {What: "low-stuck", Where: "tank"},
	} {
		v := newVisit(t, config.Example)
		require.NoError(t, v.world.Inject(fault))
		_, err := v.run(says{"Try again?": {"yes", "no"}})
		require.ErrorIs(t, err, commission.ErrFailed)
		require.ErrorContains(t, err, where+" still reads")
		assert.Equal(t, "failed north", v.words()[len(v.words())-1])
	}
}

func TestSwappedSwitchesAreNamed(t *testing.T) {
	v := newVisit(t, config.Example)
	v.swapped = map[string]string{"north.full": "north.high", "north.high": "north.full"}
	_, err := v.run(says{"Try again?": {"no"}})
	require.ErrorIs(t, err, commission.ErrFailed)
	assert.Contains(t, v.said.String(), "north.high changed, not north.full: are their wires swapped?")
}

func TestTheKeyLetGoStopsThePump(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"Hold Enter": {"[1 min] held", "[20 min] held"}, "plug the pumps in": {"yes"}, "Tables bare": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	first := v.ledger.Floods[0]
	assert.Equal(t, controller.Interrupted, first.Outcome)
	assert.InDelta(t, 60, first.Run.Seconds(), 2)
	assert.Equal(t, controller.Proven, v.ledger.Floods[1].Outcome)
}

func TestAKeyThatNobodyHoldsEndsTheDialogue(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"Hold Enter": {"nobody"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.Zero(t, v.starts("flood_pump"))
}

func TestATimeThatIsFarOffIsReplacedBeforeTheFloodsAreTimed(t *testing.T) {
	for name, fill := range map[string]string{"too long": "12 min", "too short": "2 min"} {
		file := bytes.Replace(config.Example, []byte("fill: 3.5 min"), []byte("fill: "+fill), 1)
		file = bytes.Replace(file, []byte("at: 155 L"), []byte("at: 170 L"), 1)
		v := newVisit(t, file)
		_, err := v.run(says{"About how long": {"soon", "3 min 15 s"}, "Tables bare": {"stop"}})
		require.ErrorIs(t, err, commission.ErrStopped, name)
		floods := v.ledger.Floods
		require.Len(t, floods, 2, name)
		assert.NotEqual(t, controller.Proven, floods[0].Outcome, name)
		assert.Equal(t, 2, v.starts("flood_pump"), "%s: nothing is retried while nobody holds the key", name)
		assert.Equal(t, controller.Proven, floods[1].Outcome, name)
	}
}

func TestALatchedBenchAsksWhatWasFound(t *testing.T) {
	v := newVisit(t, config.Example)
	require.NoError(t, v.world.Inject(sim.Fault{What: "drain-blocked", Where: "north", For: 30 * time.Minute, At: 15 * time.Minute}))
	_, err := v.run(says{"What was found?": {"[1 s]", "[10 min] a leaf in the drain"}, "Tables bare": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.Contains(t, v.said.String(), "north is locked until reset: ")
	assert.Contains(t, v.said.String(), "say what was found")
	assert.Equal(t, controller.Proven, v.ledger.Floods[len(v.ledger.Floods)-1].Outcome)
}

func TestFloodsThatDisagreeAreTimedAgain(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"When the water stands": {"[4 min] scale", "[4 min] 60 L", "[4 min] scale"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Contains(t, v.said.String(), "more than 10 % is no calibration")
	assert.Contains(t, strings.Join(v.words(), ", "), "timed north, timed north, timed north, discarded north, timed north, timed north, timed north, calibrated north")
}

func TestPumpTimeThatIsSpentIsNoFailedCheck(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"When the water stands": {"[4 min] scale", "[4 min] 60 L", "[4 min] scale", "[4 min] scale", "[4 min] 60 L", "[4 min] scale"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.Contains(t, v.said.String(), "the pump time of 24 hours is spent")
	assert.Contains(t, v.said.String(), "It is granted anew from 3 April ")
	assert.NotContains(t, v.words(), "failed north")
	v.allOff()
}

func TestAReadingAfterThePumpStoppedDoesNotCount(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{"When the water stands": {"[30 min] scale"}, "Tables bare": {"a lot", "scale"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Contains(t, v.said.String(), "That reading does not count")
	assert.Contains(t, v.said.String(), "Note: nobody read the tank")
}

func TestADateThatNobodyTrustsIsConfirmed(t *testing.T) {
	v := newVisit(t, config.Example)
	v.world.Trust(false)
	_, err := v.run(says{"It shows 2 April 2026 20:00. Is that right?": {"no"}})
	require.ErrorContains(t, err, "set the clock")
	require.ErrorIs(t, v.prove(says{"Is that right?": {"stop"}}), commission.ErrStopped)
	require.NoError(t, v.prove(nil))
}

func TestAHighTooCloseToAFloodIsTold(t *testing.T) {
	for settle, told := range map[string]bool{"48 mm": true, "40 mm": false} {
		v := newVisit(t, config.Example)
		_, err := v.run(says{"How high does": {settle}, "Tables bare": {"scale", "stop"}})
		require.ErrorIs(t, err, commission.ErrStopped)
		assert.Equal(t, told, strings.Contains(v.said.String(), "HIGH at 52 mm is less than 5 mm above this flood"), settle)
	}
}

func TestOtherBenchesAreCommissionedToo(t *testing.T) {
	for _, name := range []string{"two-benches", "high-only", "full-only", "full-high", "timed"} {
		file, err := os.ReadFile("../../testdata/configs/" + name + ".yaml")
		require.NoError(t, err)
		v := newVisit(t, file)
		for {
			if _, err = v.run(nil); err == nil || !strings.Contains(v.said.String(), "It is granted anew") {
				break
			}
			v.said.Reset()
			v.world.Advance(v.world.Elapsed() + 12*time.Hour)
			v.cp = v.ledger.Checkpoint
		}
		require.NoError(t, err, "%s: %s", name, &v.said)
		v.allOff()
		assert.Less(t, v.world.Truth().Totals.Spilled, 1e-9, name)
		measured, err := v.judge().Apply(v.site)
		require.NoError(t, err)
		for i := range measured.Benches {
			assert.Contains(t, v.said.String(), "max run   "+quantity.Duration(measured.Held(i).MaxRun), "%s: as the guard holds it", name)
		}
	}
}

func TestTheLogIsAScriptOfTheSameDialogue(t *testing.T) {
	first, again := newVisit(t, config.Example), newVisit(t, config.Example)
	_, err := first.run(nil)
	require.NoError(t, err)
	require.NoError(t, again.commission(first.log.String()), "%s", &again.said)
	assert.Equal(t, first.words(), again.words())
}

func TestAnswersThatEndStopTheDialogue(t *testing.T) {
	v := newVisit(t, config.Example)
	err := v.commission("yes\n# nothing more\n\n")
	require.ErrorIs(t, err, commission.ErrOut)
	require.ErrorContains(t, err, "It takes about 2 min")
	v.allOff()
	for _, wrong := range []string{"[9 min yes", "[soon] yes"} {
		_, err := commission.NewScript("answers.txt", strings.NewReader("\n"+wrong), &v.said)
		require.ErrorContains(t, err, "answers.txt:2: ")
	}
}

// titledFile is the example with titles whose words are in no name.
var titledFile = []byte(strings.NewReplacer("  north:\n", "  north:\n    title: Nordtisch\n", "  tank:\n", "  tank:\n    title: 北の水槽\n").Replace(string(config.Example)))

// Names stand in commands and in the switches' short names of the wiring list alone.
func TestThePersonReadsTitles(t *testing.T) {
	v := newVisit(t, titledFile)
	_, err := v.run(nil)
	require.NoError(t, err, "%s", &v.said)
	said := v.said.String() + strings.Join(v.judge().Lines(v.site), "\n")
	for _, words := range []string{"each switch, Nordtisch", "FULL of Nordtisch", "the low switch of 北の水槽", "Fill 北の水槽 to 200 L", "a scale on 北の水槽", "\n  Nordtisch\n", "Nordtisch is calibrated"} {
		assert.Contains(t, said, words)
	}
	for line := range strings.Lines(said) {
		bare := regexp.MustCompile(`(north|tank)\.(full|high|low)`).ReplaceAllString(line, "")
		assert.NotRegexp(t, `\b(north|tank)\b`, bare, line)
	}
}
