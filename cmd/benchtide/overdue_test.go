package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

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
	on := record{t.Context(), l, site.Zone}
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

	now.Wall = done.Add(commission.TestEvery - time.Hour)
	require.Empty(t, k.overdue(t.Context(), now))
	now.Wall = done.Add(commission.TestEvery + time.Hour)
	require.Equal(t, []string{"north"}, k.overdue(t.Context(), now))
	now.Trusted = false
	require.Empty(t, k.overdue(t.Context(), now), "a date that nobody knows makes nothing overdue")

	now.Trusted = true
	again := kept{site: k.written, ledger: l}
	require.NoError(t, again.judge(entries, now, false))
	require.Empty(t, again.overdue(t.Context(), now), "it is in force already")
}
