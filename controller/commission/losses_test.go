package commission_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/commission"
)

// attend holds a dialogue as at a real board, where nobody but the person acts,
// in the boot named.
func (v *visit) attend(boot string, otherwise says) error {
	o := v.options("")
	o.Person, o.Hands, o.Boot = &obliging{v: v, otherwise: otherwise}, nil, boot
	return commission.Run(v.t.Context(), o)
}

// skips answers the questions whether to do what may be left out: the first n
// are done.
func skips(n int) []string {
	return append(append([]string(nil), strings.Fields(strings.Repeat("yes ", n))...), "skip")
}

func TestARestartCountsOnceTheComputerHasRestarted(t *testing.T) {
	v := newVisit(t, wired)
	wait := says{"Waiting for that": {"what for?", "stop"}}
	require.ErrorIs(t, v.attend("boot 1", wait), commission.ErrStopped)
	assert.Contains(t, v.said.String(), "Restart the computer with your eyes on the relays")
	require.ErrorIs(t, v.attend("boot 1", wait), commission.ErrStopped)
	assert.Contains(t, v.said.String(), "The computer has not restarted since.")
	assert.Equal(t, []string{"begun", "passed", "awaited", "awaited"}, v.words())

	v.said.Reset()
	require.ErrorIs(t, v.attend("boot 2", wait), commission.ErrStopped)
	assert.Contains(t, v.said.String(), "Did every relay stay silent")
	assert.NotContains(t, v.said.String(), "Unplug every pump", "they are unplugged since the boot before")
	assert.Equal(t, []string{"begun", "passed", "awaited", "awaited", "passed", "awaited"}, v.words())

	for boot := 3; boot < 5; boot++ { // where the kernel names no boot, the person's word counts
		require.ErrorIs(t, v.attend("", wait), commission.ErrStopped)
	}
	assert.Contains(t, v.said.String(), "Kill this program")
}

func TestAStopInPeaceShowsNothingOfAKillOrAPowerCut(t *testing.T) {
	v := newVisit(t, wired)
	require.ErrorIs(t, v.attend("boot 1", says{"Do it now?": {"skip", "skip", "skip", "yes"}, "Waiting": {"stop"}}), commission.ErrStopped)
	assert.Equal(t, "called-off", v.words()[len(v.words())-1])
	v.said.Reset()
	require.ErrorIs(t, v.attend("boot 1", says{"Waiting": {"stop"}}), commission.ErrStopped)
	assert.NotContains(t, v.said.String(), "Did every relay stay silent")

	entries, err := v.record.Entries()
	require.NoError(t, err)
	v.record = &commission.Memory{}
	for _, e := range entries[:len(entries)-1] { // as if the program had not come to call it off
		require.NoError(t, v.record.Add(e))
	}
	v.said.Reset()
	require.ErrorIs(t, v.attend("boot 1", says{"relay stay silent": {"stop"}}), commission.ErrStopped)
	assert.Contains(t, v.said.String(), "Did every relay stay silent")
	require.ErrorIs(t, v.attend("boot 2", says{"Waiting": {"stop"}}), commission.ErrStopped)
	assert.Contains(t, v.said.String(), "The program was not killed.")
}

func TestAProgramThatIsToldToStopWhileItWaitsCallsThePowerCutOff(t *testing.T) {
	v := newVisit(t, wired)
	ctx, stop := context.WithCancel(t.Context())
	o := v.options("")
	o.Hands, o.Person = nil, &told{obliging{v: v, otherwise: says{"Do it now?": {"skip", "skip", "skip", "skip", "yes"}, "Waiting": {"[1 h] yes"}}}, stop}
	require.ErrorIs(t, commission.Run(ctx, o), commission.ErrStopped)
	assert.Equal(t, []string{"awaited", "called-off"}, v.words()[len(v.words())-2:])
	v.allOff()
}

// told is a person beside whom the program is told to stop when it waits.
type told struct {
	obliging
	stop func()
}

func (p *told) Ask(question string) {
	p.obliging.Ask(question)
	if strings.Contains(question, "Waiting") {
		p.stop()
	}
}

func TestNoRelayClicksForAnHour(t *testing.T) {
	v := newVisit(t, wired)
	require.ErrorIs(t, v.attend("boot", says{"Do it now?": {"skip", "skip", "skip", "skip", "yes"}, "Waiting": {"[1 h] stop"}}), commission.ErrStopped)
	assert.Greater(t, v.world.Elapsed(), time.Hour)
	assert.InDelta(t, 101, v.starts("enable"), 2, "and once before")
}

func TestAFloodThatThePowerCutIsOnRecord(t *testing.T) {
	v := newVisit(t, wired)
	cuts := 0
	v.back = func() {
		entries, _ := v.record.Entries()
		last := &entries[len(entries)-1]
		if strings.Contains(string(last.Data), "power-cut") {
			cuts++
			last.Data = []byte(`{"step":"power-cut","boot":"boot 4","flood":999}`)
		}
	}
	_, err := v.run(says{"Try again?": {"yes", "no"}})
	require.ErrorIs(t, err, commission.ErrFailed)
	require.ErrorContains(t, err, "look at the card")
	assert.Equal(t, 2, cuts)
	assert.NotEmpty(t, v.judge().Unattended)
}

func TestAWrongClockMayNotBeBelieved(t *testing.T) {
	v := newVisit(t, wired)
	_, err := v.run(says{"Leave it plugged": {"stop"}})
	require.ErrorIs(t, err, commission.ErrStopped)
	assert.Contains(t, v.said.String(), "and is not believed: floods would follow elapsed time")
	entries, _ := v.record.Entries()
	assert.True(t, entries[len(entries)-1].At.Equal(v.world.Now().Wall), "the step is dated by the clock that is right again")

	v = newVisit(t, wired)
	v.believes = true
	_, err = v.run(says{"and is believed. Is that right?": {"no"}})
	require.ErrorIs(t, err, commission.ErrFailed)
	require.ErrorContains(t, err, "must not be believed")
}
