package client

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
)

// A clock that is not trusted leaves the calendar, not the bench, without floods.
func TestStatusSaysWhatTheNextFloodFollows(t *testing.T) {
	for plan, says := range map[string]string{"calendar": "no flood is planned", "elapsed": "the next flood follows elapsed time"} {
		var out bytes.Buffer
		require.NoError(t, writeStatus(&out, &live.Status{Plan: plan, Benches: []live.BenchStatus{{Name: "north"}}}))
		assert.Contains(t, out.String(), says)
	}
}

func TestStatusNamesTheFloodsThatAreSkipped(t *testing.T) {
	slot := "2026-03-12T15:00:00+00:00"
	for _, c := range []struct {
		skipped []live.SkippedFlood
		want    string
	}{
		{[]live.SkippedFlood{{Slot: &slot, Due: slot}}, "skipped Thu 12 Mar 15:00: left out by a person"},
		{[]live.SkippedFlood{{Due: slot}}, "skipped: a person left out the next flood"},
		{nil, ""},
	} {
		var out bytes.Buffer
		require.NoError(t, writeStatus(&out, &live.Status{Benches: []live.BenchStatus{{Name: "north", Skipped: c.skipped}}}))
		assert.Contains(t, out.String(), c.want)
		assert.Equal(t, c.want != "", strings.Contains(out.String(), "skipped"))
	}
}
