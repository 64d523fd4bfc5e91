//go:build boardtest

package boardtest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/boardtest/console"
)

func TestABoardThatBootsIn1970FloodsOnceTimeIsKnown(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	r.powerOn()
	r.serve()
	require.Zero(t, r.metric("benchtide_clock_trusted"))
	time.Sleep(12 * time.Second) // longer than a table takes to count as empty
	for name, c := range r.circuits() {
		require.Empty(t, c.Energised(r.writes()), "circuit of %s while time is unknown", name)
	}

	from := r.mark()
	known := time.Now()
	r.setClock("10:00", 3*time.Second)
	for bench, circuit := range r.circuits() {
		ended := r.awaitEnded(from, time.Minute, bench)
		require.Equal(t, "proven", ended.Outcome, ended.Reason)
		spans := circuit.Energised(r.writes())
		require.Len(t, spans, 1, "runs of %s", bench)
		require.WithinRange(t, spans[0].From, known.Add(3*time.Second), known.Add(8*time.Second))
		require.False(t, spans[0].To.IsZero())
		t.Logf("%s: energised %v", bench, spans[0])
	}
	require.EqualValues(t, 1, r.metric("benchtide_clock_trusted"))
	r.do(console.Request{Do: "stop"})
	r.requireDry()
}
