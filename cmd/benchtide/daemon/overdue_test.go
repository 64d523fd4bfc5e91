package daemon

import (
	"strings"
	"testing"
	"text/tabwriter"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/client"
	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
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
	require.Contains(t, shownChecks(&k, now), "switches  north proved on 2 Mar 2026, the next proof test is due by 1 Apr 2026\n")
	hold := k.site.Limits().Benches[0].MaxHold

	now.Wall = done.Add(commission.TestEvery - time.Hour)
	require.Empty(t, k.overdue(t.Context(), now))
	now.Wall = done.Add(commission.TestEvery + time.Hour)
	require.Equal(t, []int{0}, k.overdue(t.Context(), now))
	require.Contains(t, shownChecks(&k, now), "switches  ! the proof test of north was due by 1 Apr 2026; holds may be shorter until it is done\n")
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
	require.Equal(t, `wiring    ! no flood starts by itself: nothing of this wiring was checked: run "benchtide commission" beside the bench
switches  ! those of north were never proved on this wiring; holds may be shorter until they are
`, shownChecks(&k, safety.Now{}))

	at := time.Date(2026, 3, 2, 12, 0, 0, 0, site.Zone)
	k = kept{site: site}
	entries := []commission.Entry{
		{At: at, What: "left-out", Fingerprint: site.Fingerprint(), Data: []byte(`{"step":"rcd"}`)},
		{At: at, What: "left-out", Place: "north", Fingerprint: site.Fingerprint(), Data: []byte(`{"step":"endurance"}`)},
	}
	require.NoError(t, k.judge(entries, safety.Now{}, true))
	require.Contains(t, shownChecks(&k, safety.Now{}), "! floods start, though nothing of this wiring was checked")
	require.Contains(t, shownChecks(&k, safety.Now{}), `! left out, and still to be done by "benchtide commission --left-out": the residual-current device; the overflow stands the longest hold, north`)
	shown := k.checked(safety.Now{}).LeftOut
	require.Nil(t, shown[0].Bench)
	require.Equal(t, "north", *shown[1].Bench)
	require.Equal(t, "2026-03-02T12:00:00+00:00", shown[1].At)
}

// shownChecks is what "benchtide status" shows of commissioning.
func shownChecks(k *kept, now safety.Now) string {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	st := k.checked(now)
	client.WriteCommissioning(t, &st)
	_ = t.Flush() // into memory
	return b.String()
}
