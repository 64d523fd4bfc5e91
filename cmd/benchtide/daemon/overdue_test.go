package daemon

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/live"
	"benchtide/safety"
)

func TestAProofTestThatRunsOutUnderADaemonIsNoticed(t *testing.T) {
	site, problems := config.Parse("example.yaml", config.Example)
	require.NoError(t, problems.Err())
	site.Board = config.GPIO
	l, _, err := ledger.Open(t.TempDir(), ledger.Options{Limits: site.Limits(), Zone: site.Zone})
	require.NoError(t, err)
	defer l.Close()
	done := time.Date(2026, 3, 2, 12, 0, 0, 0, site.Zone)
	on := onsite.Record{Ctx: t.Context(), Ledger: l, Zone: site.Zone}
	for _, e := range []commission.Entry{
		{At: done, What: "commissioned", Fingerprint: site.Fingerprint(), Data: []byte(`{}`)},
		{At: done, What: "proof-test", Place: "north", Fingerprint: site.Fingerprint(), Data: []byte(`{}`)},
	} {
		require.NoError(t, on.Add(e))
	}
	entries, err := on.Entries()
	require.NoError(t, err)
	now := safety.Now{Wall: done.Add(time.Hour), Trusted: true}
	k := kept{site: site, ledger: l}
	require.NoError(t, k.judge(entries, now, false))
	last, due := "2026-03-02T12:00:00+00:00", "2026-04-01T13:00:00+01:00"
	require.Equal(t, []live.ProofTest{{Bench: "north", Last: &last, Due: &due}}, k.checked(now).ProofTests)
	hold := k.site.Limits().Benches[0].MaxHold

	now.Wall = done.Add(commission.TestEvery - time.Hour)
	require.Empty(t, k.overdue(t.Context(), now))
	now.Wall = done.Add(commission.TestEvery + time.Hour)
	require.Equal(t, []int{0}, k.overdue(t.Context(), now))
	require.Equal(t, []live.ProofTest{{Bench: "north", Last: &last, Due: &due, Overdue: true}}, k.checked(now).ProofTests)
	require.Equal(t, hold, k.site.Limits().Benches[0].MaxHold, "it is in force with the next start alone")
	now.Trusted = false
	require.Empty(t, k.overdue(t.Context(), now), "a date that nobody knows makes nothing overdue")

	now.Trusted = true
	again := kept{site: k.written, ledger: l}
	require.NoError(t, again.judge(entries, now, false))
	require.Empty(t, again.overdue(t.Context(), now), "it is in force already")
	require.Less(t, again.site.Limits().Benches[0].MaxHold, hold, "nor does a HIGH count for long holds that may be dead")
}

func TestWhatWasNotCheckedIsShown(t *testing.T) {
	site, problems := config.Parse("example.yaml", config.Example)
	require.NoError(t, problems.Err())
	site.Board = config.GPIO
	k := kept{site: site}
	require.NoError(t, k.judge(nil, safety.Now{}, false))
	require.Equal(t, live.CommissioningStatus{
		Why:        `nothing of this wiring was checked: run "benchtide commission" beside the bench`,
		ProofTests: []live.ProofTest{{Bench: "north", Overdue: true}}, LeftOut: []live.LeftOut{},
	}, k.checked(safety.Now{}))

	at := time.Date(2026, 3, 2, 12, 0, 0, 0, site.Zone)
	k = kept{site: site}
	entries := []commission.Entry{
		{At: at, What: "left-out", Fingerprint: site.Fingerprint(), Data: []byte(`{"step":"rcd"}`)},
		{At: at, What: "left-out", Place: "north", Fingerprint: site.Fingerprint(), Data: []byte(`{"step":"endurance"}`)},
	}
	require.NoError(t, k.judge(entries, safety.Now{}, true))
	checked := k.checked(safety.Now{})
	require.True(t, checked.Unattended)
	require.Contains(t, checked.Why, "nothing of this wiring was checked")
	shown := checked.LeftOut
	require.Len(t, shown, 2)
	require.Equal(t, "the residual-current device", shown[0].Step)
	require.Equal(t, "the overflow stands the longest hold", shown[1].Step)
	require.Nil(t, shown[0].Bench)
	require.Equal(t, "north", *shown[1].Bench)
	require.Equal(t, "2026-03-02T12:00:00+00:00", shown[1].At)
}
