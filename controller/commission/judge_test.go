package commission_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/hw/sim"
	"benchtide/safety"
)

var wired = bytes.Replace(config.Example, []byte("board: simulated"), []byte("board: gpio"), 1)

// whole is what a whole commissioning of the example, wired, leaves on record.
var whole []commission.Entry

func commissionedVisit(t *testing.T) *visit {
	v := newVisit(t, wired)
	if whole == nil {
		_, err := v.run(nil)
		require.NoError(t, err, "%s", &v.said)
		whole, err = v.record.Entries()
		require.NoError(t, err)
		return commissionedVisit(t)
	}
	for _, e := range whole {
		require.NoError(t, v.record.Add(e))
	}
	return v
}

func (v *visit) judgedBy(file []byte, after time.Duration, trusted bool) (commission.Verdict, *config.Site) {
	site, problems := config.Parse("bench.yaml", file)
	require.NoError(v.t, problems.Err())
	entries, err := v.record.Entries()
	require.NoError(v.t, err)
	now := v.world.Now()
	now.Wall, now.Trusted = now.Wall.Add(after), trusted
	st, err := commission.Judge(site, entries, now)
	require.NoError(v.t, err)
	return st, site
}

func TestOnlyTheWiringThatWasCheckedFloodsUnattended(t *testing.T) {
	v := commissionedVisit(t)
	st, _ := v.judgedBy(wired, 0, true)
	assert.Empty(t, st.Unattended)
	assert.False(t, st.Since.IsZero())

	rewired := bytes.Replace(wired, []byte("GPIO24"), []byte("GPIO16"), 1)
	st, _ = v.judgedBy(rewired, 0, true)
	assert.Contains(t, st.Unattended, "the wiring in the file is not that which was checked")
	assert.True(t, st.Tests[0].Overdue, "its switches were proved on other lines")
	assert.NotEmpty(t, st.Cycles, "the water goes as it did")

	st, _ = newVisit(t, wired).judgedBy(wired, 0, true)
	assert.Contains(t, st.Unattended, "nothing of this wiring was checked")
	st, _ = newVisit(t, wired).judgedBy(config.Example, 0, true)
	assert.Empty(t, st.Unattended, "a simulated board counts as commissioned")
	assert.Empty(t, st.Tests)
}

func TestAHalfDoneCommissioningDoesNotCount(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(says{"Did the standpipe": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	st, _ := v.judgedBy(wired, 0, true)
	assert.NotEmpty(t, st.Unattended)
	assert.False(t, st.Tests[0].Overdue, "though its switches are proved")
}

func TestAFailedProofTestCountsUntilItPasses(t *testing.T) {
	v := commissionedVisit(t)
	require.NoError(t, v.world.Inject(sim.Fault{What: "high-dead", Where: "north"}))
	require.ErrorIs(t, v.prove(says{"Try again?": {"no"}}), commission.ErrFailed)
	st, _ := v.judgedBy(wired, 0, true)
	assert.Contains(t, st.Unattended, `the check "proof test" of north failed on 2 April 2026`)
	v.world.Clear("high-dead", "north")
	require.NoError(t, v.prove(nil))
	st, _ = v.judgedBy(wired, 0, true)
	assert.Empty(t, st.Unattended)
}

func TestACalibrationIsOfItsPlumbing(t *testing.T) {
	v := commissionedVisit(t)
	st, site := v.judgedBy(wired, 0, true)
	calibrated, err := st.Apply(site)
	require.NoError(t, err)
	assert.NotEqual(t, site.Limits().Benches[0].Fill, calibrated.Limits().Benches[0].Fill)

	longer := bytes.Replace(wired, []byte("length: 3 m"), []byte("length: 5 m"), 1)
	st, site = v.judgedBy(longer, 0, true)
	assert.Empty(t, st.Cycles)
	assert.Equal(t, []string{"north"}, st.Void)
	same, err := st.Apply(site)
	require.NoError(t, err)
	assert.Equal(t, site.Limits(), same.Limits())

	renamed := bytes.ReplaceAll(wired, []byte("north"), []byte("south"))
	st, _ = v.judgedBy(renamed, 0, true)
	assert.Empty(t, st.Cycles)
	assert.Empty(t, st.Void)
}

func TestAnOverdueProofTestShortensTheHold(t *testing.T) {
	v := commissionedVisit(t)
	const day = 24 * time.Hour
	for _, c := range []struct {
		after   time.Duration
		trusted bool
		overdue bool
	}{
		{0, true, false}, {29 * day, true, false}, {31 * day, true, true}, {31 * day, false, false}, {-400 * day, true, false},
	} {
		st, site := v.judgedBy(wired, c.after, c.trusted)
		require.Equal(t, c.overdue, st.Tests[0].Overdue, "after %v", c.after)
		applied, err := st.Apply(site)
		require.NoError(t, err)
		l := applied.Limits().Benches[0]
		if !c.overdue {
			assert.Equal(t, 8*time.Minute, l.MaxHold)
			continue
		}
		assert.Equal(t, l.Over/2, l.MaxHold, "water stays below the rim with the standpipe blocked and HIGH dead")
	}
	require.NoError(t, v.prove(nil, "north"))
	st, _ := v.judgedBy(wired, 29*day, true)
	assert.False(t, st.Tests[0].Overdue)
}

func TestAHoldThatNeedsNoHighStaysWhenItsTestIsOverdue(t *testing.T) {
	file := bytes.ReplaceAll(wired, []byte("hold: 8 min"), []byte("hold: 2 min"))
	file = bytes.ReplaceAll(file, []byte("hold: 6 min"), []byte("hold: 2 min"))
	file = bytes.ReplaceAll(file, []byte("hold: 4 min"), []byte("hold: 2 min"))
	st, site := newVisit(t, file).judgedBy(file, 0, true)
	require.True(t, st.Tests[0].Overdue)
	applied, err := st.Apply(site)
	require.NoError(t, err)
	assert.Equal(t, 2*time.Minute, applied.Limits().Benches[0].MaxHold)
}

func TestAProofTestMovesSwitchesAndRunsNoPump(t *testing.T) {
	v := newVisit(t, wired)
	require.NoError(t, v.prove(nil), "%s", &v.said)
	assert.Zero(t, v.starts("flood_pump"))
	assert.Equal(t, []string{"proof-test north"}, v.words())
	assert.NotContains(t, v.said.String(), "Bridge")
	assert.Contains(t, v.said.String(), "north.high: up")
	v.allOff()
	entries, _ := v.record.Entries()
	assert.Contains(t, string(entries[0].Data), "did enable stay open")
	require.ErrorContains(t, v.prove(nil, "south"), `no bench "south"; there are north`)
}

func TestAProofTestWithoutAnEnableRelayHasThePumpUnplugged(t *testing.T) {
	file := strings.Replace(string(wired), "  enable:     {line: GPIO22, energise: high, kind: enable}", "", 1)
	v := newVisit(t, []byte(file))
	require.ErrorContains(t, v.prove(says{"Unplug the pump of north": {"no"}}), "unplug it first")
	require.NoError(t, v.prove(nil))
	assert.Contains(t, v.said.String(), "nothing but this program stops the pump")
	require.ErrorIs(t, v.prove(says{"Unplug the pump of north": {"stop"}}), commission.ErrStopped)
}

func TestADamagedCalibrationIsNoCalibration(t *testing.T) {
	site, problems := config.Parse("bench.yaml", wired)
	require.NoError(t, problems.Err())
	_, err := commission.Judge(site, []commission.Entry{{What: "calibrated", Place: "north", Data: json.RawMessage(`"?"`)}}, safety.Now{})
	require.ErrorContains(t, err, `read the calibration of "north"`)
	_, err = commission.Judge(site, []commission.Entry{{What: "passed", Fingerprint: site.Fingerprint(), Data: json.RawMessage(`[`)}}, safety.Now{})
	require.NoError(t, err)
}

func TestThePersonIsToldHowThingsStand(t *testing.T) {
	v := commissionedVisit(t)
	tell := func(file []byte, after time.Duration) string {
		st, site := v.judgedBy(file, after, true)
		return strings.Join(st.Lines(site), "\n")
	}
	assert.Equal(t, `Commissioned on 2 April 2026.
north is calibrated: fill 3 min 3 s, fall 2 min 10 s, drain 9 min.
north: its switches were proved on 2 April 2026; the next proof test is due by 2 May 2026.`, tell(wired, 0))
	assert.Contains(t, tell(wired, 31*24*time.Hour), "was due on 2 May 2026; until it is done, holds may be shorter")
	assert.Contains(t, tell(bytes.Replace(wired, []byte("GPIO24"), []byte("GPIO16"), 1), 0), "never proved on this wiring")
	assert.Contains(t, tell(bytes.Replace(wired, []byte("length: 3 m"), []byte("length: 5 m"), 1), 0), "north was calibrated with other plumbing")
	assert.Contains(t, tell(config.Example, 0), "nothing has to be commissioned")
}

func TestTheLatestCalibrationOfABenchCounts(t *testing.T) {
	_, site := newVisit(t, wired).judgedBy(wired, 0, true)
	of := func(plumbing string, fill float64) commission.Entry {
		data, err := json.Marshal(map[string]any{"plumbing": plumbing, "fill_s": fill})
		require.NoError(t, err)
		return commission.Entry{What: "calibrated", Place: "north", Data: data}
	}
	here, there := of(site.Plumbing(0), 200), of("another hose", 300)
	st, err := commission.Judge(site, []commission.Entry{here, there}, safety.Now{})
	require.NoError(t, err)
	assert.Empty(t, st.Cycles, "the hose was changed back since, and nobody timed it again")
	assert.Equal(t, []string{"north"}, st.Void)
	st, err = commission.Judge(site, []commission.Entry{there, here}, safety.Now{})
	require.NoError(t, err)
	assert.Equal(t, 200*time.Second, st.Cycles["north"].Fill)
	assert.Empty(t, st.Void)
}
