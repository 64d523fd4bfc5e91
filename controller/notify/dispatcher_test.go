package notify

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
	"benchtide/safety"
)

// fakeChannel takes what fails lets it take.
type fakeChannel struct {
	name   string
	second bool
	fails  func(*Message) error

	mu    sync.Mutex
	tries int
	took  []Message
}

func (w *fakeChannel) Name() string { return w.name }
func (w *fakeChannel) Second() bool { return w.second }

func (w *fakeChannel) Send(ctx context.Context, p *Message) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.tries++
	if w.fails != nil {
		if err := w.fails(p); err != nil {
			return err
		}
	}
	w.took = append(w.took, *p)
	return nil
}

// what lists what was taken: kind and cause.
func (w *fakeChannel) what() (all []string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, p := range w.took {
		all = append(all, string(p.Notice.Kind)+" "+p.Notice.Alarm.Cause)
	}
	return all
}

func (w *fakeChannel) ids() map[string]int {
	w.mu.Lock()
	defer w.mu.Unlock()
	n := map[string]int{}
	for _, p := range w.took {
		n[p.ID]++
	}
	return n
}

// rig is a dispatcher in the virtual time of a synctest bubble.
type rig struct {
	*Dispatcher
	t      *testing.T
	store  Store
	begun  time.Time
	stop   func()
	lamps  []string
	ear    sync.Mutex
	said   []string // under ear
	status controller.Status
}

// heard is what was said of failing channels since it was last asked.
func (r *rig) heard() []string {
	r.ear.Lock()
	defer r.ear.Unlock()
	said := r.said
	r.said = nil
	return said
}

func (r *rig) safetyNow() safety.Now {
	return safety.Now{Mono: time.Hour + time.Since(r.begun), Wall: time.Now().UTC(), Trusted: true}
}

func begin(t *testing.T, store Store, channels ...Channel) *rig {
	r := &rig{t: t, store: store, begun: time.Now(), status: controller.Status{Benches: make([]controller.BenchStatus, 1)}}
	d := Open(Options{
		Rules:    alarm.Rules{Zone: time.UTC, Repeat: 15 * time.Minute, SecondAfter: 30 * time.Minute, DigestDay: time.Friday},
		Names:    controller.Names{Site: "greenhouse", Benches: []string{"north"}},
		Channels: channels, Store: store, Boot: "boot",
		Mono:   func() time.Duration { return time.Hour + time.Since(r.begun) },
		Signal: func(lamp, buzzer bool) { r.lamps = append(r.lamps, fmt.Sprintf("lamp %t buzzer %t", lamp, buzzer)) },
		Failing: func(channel, trouble string) {
			r.ear.Lock()
			defer r.ear.Unlock()
			r.said = append(r.said, channel+": "+trouble)
		},
	}, r.safetyNow())
	r.Dispatcher = d
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		d.Run(ctx)
		close(ended)
	}()
	r.stop = func() {
		cancel()
		<-ended
	}
	return r
}

// turn is one turn of the loop in which messages are told.
func (r *rig) turn(messages ...controller.Message) {
	t := loop.Turn{Now: r.safetyNow(), Snapshot: &loop.Snapshot{Status: r.status}}
	for _, m := range messages {
		t.Events = append(t.Events, controller.Event{Kind: controller.MessageSent, At: t.Now, Bench: m.Bench, Message: m})
	}
	r.Turn(&t)
}

// after lets time pass.
func (r *rig) after(d time.Duration) {
	time.Sleep(d) // the bubble's
	synctest.Wait()
}

func urgent(cause string) controller.Message {
	p := controller.Parts{Happened: cause + " happened.", Do: "Look."}
	return controller.Message{Urgency: controller.Urgent, Cause: cause, Text: p.Text(), Parts: p}
}

func today(cause string) controller.Message {
	m := urgent(cause)
	m.Urgency = controller.Today
	return m
}

var errGone = errors.New("no route to host")

func TestMessageGoesOnceByEachChannelOfTheFirstPerson(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail, hook, neighbour := &fakeChannel{name: "mail"}, &fakeChannel{name: "webhook"}, &fakeChannel{name: "second mail", second: true}
		r := begin(t, &outbox.Memory{}, mail, hook, neighbour)
		defer r.stop()
		r.turn(urgent("crop-basil"), today("settings"))
		r.after(2 * time.Minute)
		assert.Equal(t, []string{"arose crop-basil", "arose settings"}, mail.what())
		assert.Equal(t, mail.what(), hook.what())
		assert.Empty(t, neighbour.what())
		assert.Equal(t, []string{"lamp true buzzer true"}, r.lamps)
		r.after(29 * time.Minute)
		assert.Equal(t, []string{"again crop-basil"}, neighbour.what())
		require.NoError(t, r.Acknowledge(0, "the grower"))
		said := len(mail.what())
		r.after(3 * time.Hour)
		assert.Len(t, mail.what(), said)
		for id, n := range mail.ids() {
			assert.Equal(t, 1, n, id)
		}
	})
}

func TestDaysWithoutNetworkLoseNothingAndKeepTheOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var up atomic.Bool
		mail := &fakeChannel{name: "mail", fails: func(*Message) error {
			if up.Load() {
				return nil
			}
			return errGone
		}}
		r := begin(t, &outbox.Memory{}, mail)
		defer r.stop()
		r.turn(urgent("crop-basil"))
		r.after(time.Hour)
		r.turn(today("settings"))
		r.after(time.Hour)
		r.turn(today("outage"))
		r.after(2*24*time.Hour + time.Hour)
		assert.Less(t, mail.tries, 800, "one attempt in five minutes")
		assert.Equal(t, []string{"mail: no route to host"}, r.heard())
		assert.Equal(t, 3, r.Status().Channels[0].Waiting, "a reminder of what still waits is not queued")
		up.Store(true)
		r.after(6 * time.Minute)
		assert.Equal(t, []string{"arose crop-basil", "arose settings", "arose outage"}, mail.what()[:3])
		assert.Equal(t, []string{"mail: "}, r.heard())
	})
}

func TestWhatNobodyTookInItsTimeIsShownAsUndelivered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail", fails: func(*Message) error { return errGone }}
		r := begin(t, &outbox.Memory{}, mail)
		r.turn(today("settings"), urgent("crop-basil"))
		r.after(2 * time.Minute)
		require.NoError(t, r.Acknowledge(0, ""))
		r.after(4 * 24 * time.Hour)
		assert.Equal(t, 1, r.Status().Channels[0].Undelivered, "what was for today")
		r.stop()
		r = begin(t, r.store, mail)
		defer r.stop()
		r.turn()
		r.after(4 * 24 * time.Hour)
		assert.Equal(t, 2, r.Status().Channels[0].Undelivered, "and what was urgent, after a week, a restart in it")
		lost := r.Lost()
		require.Len(t, lost, 2)
		assert.Contains(t, lost[0].Subject, "not in force")
		assert.Contains(t, lost[1].Subject, "Basil waits for water")
		for _, l := range lost {
			assert.Equal(t, "no route to host", l.Error)
		}
	})
}

func TestWhatIsRefusedHoldsUpNothingElse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail", fails: func(p *Message) error {
			if p.Notice.Alarm.Cause == "settings" {
				return Refused{"mailbox full"}
			}
			return nil
		}}
		r := begin(t, &outbox.Memory{}, mail)
		defer r.stop()
		r.turn(today("settings"), today("outage"))
		r.after(2 * time.Minute)
		assert.Equal(t, []string{"arose outage"}, mail.what())
		assert.Equal(t, 1, r.Status().Channels[0].Waiting)
	})
}

func TestQueueSurvivesARestartWithItsIDs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tried := map[string]bool{}
		down := &fakeChannel{name: "mail", fails: func(p *Message) error {
			tried[p.ID] = true
			return errGone
		}}
		r := begin(t, &outbox.Memory{}, down)
		r.turn(urgent("crop-basil"))
		r.after(time.Minute)
		r.stop()
		up := &fakeChannel{name: "mail"}
		r = begin(t, r.store, up)
		defer r.stop()
		r.turn()
		r.after(time.Second)
		assert.Equal(t, []string{"arose crop-basil"}, up.what())
		for id := range up.ids() {
			assert.True(t, tried[id], "the second attempt has the id of the first")
		}
	})
}

func TestProgramThatDiesBeforeItWroteAnythingDownTellsFromTheSnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail"}
		r := begin(t, &outbox.Memory{}, mail)
		defer r.stop()
		r.status.Benches[0].Latched = []safety.Trip{{Interlock: safety.HighLevel, Detail: "HIGH shows water"}}
		r.turn() // the message itself is lost
		r.after(2 * time.Minute)
		assert.Equal(t, []string{"arose high-level"}, mail.what())
	})
}

func TestTestMessageIsConfirmedByItsAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail, neighbour := &fakeChannel{name: "mail"}, &fakeChannel{name: "second mail", second: true}
		r := begin(t, &outbox.Memory{}, mail, neighbour)
		r.turn()
		r.after(time.Second)
		n, err := r.Test()
		require.NoError(t, err)
		assert.Equal(t, 2, n)
		r.after(time.Second)
		assert.Equal(t, []string{"test test"}, mail.what())
		assert.Equal(t, []string{"test test"}, neighbour.what(), "the second person has to answer as well")
		assert.Contains(t, mail.took[0].Notice.Body, r.channels["mail"].fares.Code)
		st := r.Status()
		assert.True(t, st.Confirmed().IsZero())
		_, err = r.Confirm("no code")
		assert.ErrorContains(t, err, `code "no code"`)
		code := r.channels["second mail"].fares.Code
		r.after(time.Hour)
		channel, err := r.Confirm(" " + code + "\n")
		require.NoError(t, err)
		assert.Equal(t, "second mail", channel)
		_, err = r.Confirm(code)
		assert.Error(t, err, "a code is good once")
		at := time.Now().UTC()
		r.after(time.Second)
		r.stop()
		r = begin(t, r.store, mail, neighbour)
		defer r.stop()
		st = r.Status()
		assert.WithinDuration(t, at, st.Confirmed(), time.Second)
		assert.True(t, st.Channels[0].Confirmed.IsZero(), "by that channel alone")
	})
}

func TestTestWithoutAChannelSaysWhatIsMissing(t *testing.T) {
	_, err := Open(Options{Rules: alarm.Rules{Zone: time.UTC}}, safety.Now{}).Test()
	assert.ErrorIs(t, err, errNoChannel)
}

func TestChannelThatLeftTheFileLeavesItsMessagesUndelivered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hook := &fakeChannel{name: "webhook", fails: func(*Message) error { return errGone }}
		r := begin(t, &outbox.Memory{}, hook)
		r.turn(urgent("crop-basil"))
		r.after(time.Second)
		r.stop()
		r = begin(t, r.store, &fakeChannel{name: "mail"})
		defer r.stop()
		r.turn()
		r.after(time.Second)
		lost := r.Lost()
		require.Len(t, lost, 1)
		assert.Contains(t, lost[0].Error, "not in the file any more")
	})
}

func TestQueueThatIsFullGivesUpWhatIsNotUrgentFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail", fails: func(*Message) error { return errGone }}
		r := begin(t, &outbox.Memory{}, mail)
		defer r.stop()
		r.turn(today("settings"))
		r.after(2 * time.Minute)
		r.mu.Lock()
		r.most = 20
		r.mu.Unlock()
		for i := range 20 {
			r.turn(urgent(fmt.Sprintf("crop-%d", i)))
		}
		r.after(time.Minute)
		st := r.Status()
		assert.Equal(t, 20, st.Channels[0].Waiting)
		lost := r.Lost()
		require.Len(t, lost, 1)
		assert.Contains(t, lost[0].Subject, "not in force")
		assert.Equal(t, "too many messages wait", lost[0].Error)
	})
}

func TestAChannelIsTroubleOnceItHasFailedForHalfAnHour(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var down atomic.Bool
		mail := &fakeChannel{name: "mail", fails: func(*Message) error {
			if down.Load() {
				return errGone
			}
			return nil
		}}
		r := begin(t, &outbox.Memory{}, mail)
		defer r.stop()
		for _, cause := range []string{"never worked yet", "worked for hours"} {
			r.heard()
			down.Store(true)
			r.turn(urgent(cause))
			r.after(failingFor - time.Minute)
			assert.Empty(t, r.heard(), "%s: it may be back in a moment", cause)
			r.after(2 * lastRetry)
			assert.Equal(t, []string{"mail: no route to host"}, r.heard(), cause)
			down.Store(false)
			r.after(5 * time.Hour)
		}
	})
}

func TestWhatTheLoopToldStaysAsItWasTold(t *testing.T) {
	var b inbox
	turn := loop.Turn{Events: []controller.Event{{Kind: controller.FloodEnded, Flood: controller.Flood{ID: 7, Outcome: controller.Proven}}}}
	b.put(&turn)
	turn.Events[0] = controller.Event{Kind: controller.FloodEnded, Flood: controller.Flood{ID: 8}} // the loop uses its room again
	told := b.take().told
	require.Len(t, told, 1)
	assert.EqualValues(t, 7, told[0].flood.ID)
}
