package daemon

import (
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// alarmOf waits for the alarm of a bench and cause, and returns its text.
func alarmOf(t *testing.T, d *daemon, bench, cause string) (text string) {
	t.Helper()
	require.Eventually(t, func() bool {
		for _, a := range d.post.dispatcher.Status().Alarms {
			if a.Bench == bench && a.Cause == cause {
				text = a.Text
			}
		}
		return text != ""
	}, patience, 10*time.Millisecond, "%s %s", bench, cause)
	return text
}

func TestAllThatAStartFindsWrongIsTold(t *testing.T) {
	k := keptFor(t, string(config.Example))
	k.found = []string{"The ledger was damaged.", "What commissioning found cannot be read."}
	k.notInForce = errors.New("the line GPIO5 is held")
	manager, err := newServiceManager()
	require.NoError(t, err)
	d, err := newDaemon(*k, idleMachine(t, k.site), manager, newJournal(io.Discard, false, false))
	require.NoError(t, err)
	defer d.api.Close()
	d.loop.Turn()
	assert.Equal(t, "The ledger was damaged. What commissioning found cannot be read.", alarmOf(t, d, "", "record"))
	assert.Contains(t, alarmOf(t, d, "", "settings"), "the line GPIO5 is held")
	d.post.close()
}

func TestEachBenchWhoseProofTestIsOverdueIsAnAlarmOfItsOwn(t *testing.T) {
	site := many(t, 2)
	d := running(t, site)
	r := reloader{inForce: version{site: site}, overdue: func(context.Context) []int { return []int{0, 1} }}
	require.True(t, r.tellOverdue(t.Context(), d))
	for _, bench := range []string{"bench_0", "bench_1"} {
		assert.Contains(t, alarmOf(t, d, bench, "proof-test"), "commission --proof-test "+bench)
	}
}

func TestStorageThatFailsIsToldOfOnceAndTheAlarmEndsWhenItWorksAgain(t *testing.T) {
	var stats ledger.Stats
	var told []controller.Message
	w := storageWatch{stats: func() ledger.Stats { return stats }, tell: func(m controller.Message) { told = append(told, m) }}
	pass := func(trouble error) {
		stats.Trouble = trouble
		for range 3 {
			w.Turn(&loop.Turn{Now: safety.Now{Mono: w.next}})
		}
	}
	pass(nil)
	require.Empty(t, told)
	pass(errors.New("no space left"))
	require.Len(t, told, 1)
	assert.Equal(t, controller.Urgent, told[0].Urgency)
	pass(nil)
	require.Len(t, told, 2)
	assert.True(t, told[1].Gone)
	assert.Equal(t, told[0].Cause, told[1].Cause)
}
