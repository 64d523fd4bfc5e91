package commission_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/commission"
)

func TestEachRehearsedFaultIsStoppedByItsInterlock(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(nil)
	require.NoError(t, err, "%s", &v.said)
	said := v.said.String()
	for title, interlock := range map[string]string{
		"FULL lifted too early": "filling too slow or too fast", "FULL held down": "filling too slow or too fast",
		"HIGH lifted with the pump on": "water too high", "the pump unplugged": "filling too slow or too fast",
	} {
		_, step, found := strings.Cut(said, title)
		require.True(t, found, title)
		step, _, _ = strings.Cut(step, "\nStep ")
		assert.Contains(t, step, "As it has to be: the pump was stopped ("+interlock+")", title)
	}
	floods := v.ledger.Floods
	assert.Equal(t, controller.Interrupted, floods[len(floods)-2].Outcome, "the power was cut")
	assert.Equal(t, controller.Proven, floods[len(floods)-1].Outcome, "the last flood shows that the bench is whole")
	assert.Empty(t, v.ledger.Checkpoint.Guard.Benches["north"].Latched)
}

func TestAFaultThatNothingNoticesFailsTheCheck(t *testing.T) {
	for n, c := range []struct {
		title string
		act   commission.Act
	}{
		{"FULL lifted too early", commission.Wet}, {"FULL held down", commission.HoldDown},
		{"HIGH lifted with", commission.Wet}, {"the pump unplugged", commission.Unplug},
	} {
		v, title, act := newVisit(t, wired), c.title, c.act
		only := append(strings.Fields(strings.Repeat("skip ", 9+n)), "yes")
		v.fails = func(a commission.Act, _ string) bool { return a == act && strings.Contains(v.said.String(), title) }
		_, err := v.run(says{"Try again?": {"no"}, "Do it now?": only})
		require.ErrorIs(t, err, commission.ErrFailed, title)
		require.ErrorContains(t, err, "did not stop the pump", title)
		v.allOff()
		assert.Contains(t, v.judge().Unattended, "of north failed", title)
	}
}

func TestWhatIsLeftOutStandsAsNotDone(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(says{"Do it now?": {"skip"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Equal(t, 1, v.starts("flood_pump"), "the first, with the key held down")
	st := v.judge()
	assert.Empty(t, st.Unattended)
	assert.Empty(t, st.Cycles)
	require.Len(t, st.LeftOut, 16)
	assert.Equal(t, "no relay stirs at a restart", st.LeftOut[0].Step)
	assert.Contains(t, strings.Join(st.Lines(v.site), "\n"),
		`Left out, and still to be done by "benchtide commission --left-out": no relay stirs at a restart; `)

	person, err := v.leftOut(says{"Do it now?": skips(8)})
	require.NoError(t, err, "%s", &v.said)
	assert.NotContains(t, strings.Join(person.asked, "\n"), "line by line", "what has passed is not done again")
	st = v.judge()
	require.Len(t, st.LeftOut, 7)
	assert.Equal(t, "rehearsal: FULL lifted too early", st.LeftOut[0].Step, "the timed floods have stood the longest hold")
	assert.NotEmpty(t, st.Cycles)
	_, err = v.leftOut(nil)
	require.NoError(t, err, "%s", &v.said)
	assert.Empty(t, v.judge().LeftOut)
	_, err = v.leftOut(nil)
	require.NoError(t, err)
	assert.Contains(t, v.said.String(), "Nothing was left out.")
}

// A program that has learnt a step finds it nowhere in a record from before.
func TestAStepThatIsNewSinceTheCommissioningStandsAsLeftOut(t *testing.T) {
	v := commissionedVisit(t)
	entries, err := v.record.Entries()
	require.NoError(t, err)
	v.record = &commission.Memory{}
	for _, e := range entries {
		if !strings.Contains(string(e.Data), `"step":"wires"`) && !strings.Contains(string(e.Data), `"step":"full-early"`) {
			require.NoError(t, v.record.Add(e))
		}
	}
	st := v.judge()
	assert.Empty(t, st.Unattended, "it floods as it did")
	require.Len(t, st.LeftOut, 2)
	assert.Equal(t, "a relay drops without its signal wire", st.LeftOut[0].Step)
	assert.Equal(t, "rehearsal: FULL lifted too early", st.LeftOut[1].Step)
	assert.Equal(t, st.Since, st.LeftOut[0].At)
	_, err = v.leftOut(nil)
	require.NoError(t, err, "%s", &v.said)
	assert.Empty(t, v.judge().LeftOut)
}

func TestWithoutTheRehearsalsItTakesWellUnderTwoHours(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(says{"Do it now?": skips(8)})
	require.NoError(t, err, "%s", &v.said)
	require.Len(t, v.judge().LeftOut, 7)
	assert.Equal(t, commission.LeftOut{Step: "rehearsal: FULL lifted too early", Bench: "north", At: v.judge().LeftOut[0].At}, v.judge().LeftOut[0])
	assert.Less(t, v.world.Elapsed(), 105*time.Minute, "a person who answers at once waits for this long")
}

func TestAFloodWithTheNetworkPluggedShowsNothingOfIt(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(says{"Leave it plugged": {"no"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Equal(t, "rehearsal: a flood without the network", v.judge().LeftOut[0].Step)
}

func TestWhatFailedIsNotMendedByLeavingItOut(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(says{"without its wire": {"no"}})
	require.ErrorIs(t, err, commission.ErrFailed)
	_, err = v.run(says{"Do it now?": {"skip"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Contains(t, v.words(), "commissioned")
	assert.Contains(t, v.judge().Unattended, `the check "wires" failed on`)
	_, err = v.leftOut(says{"Do it now?": {"yes", "skip"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Empty(t, v.judge().Unattended)
}
