package notify

import (
	"encoding/json"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
	"benchtide/safety"
)

// stuck is a store that takes nothing until it is let go.
type stuck struct {
	outbox.Memory
	let     chan struct{}
	trouble error
	onFound func(outbox.State)
}

func (s *stuck) Keep(state outbox.State, soon bool) {
	<-s.let
	s.Memory.Keep(state, soon)
}

func (s *stuck) Trouble() error { return s.trouble }

func (s *stuck) OnFound(f func(outbox.State)) { s.onFound = f }

// Whoever asks, acts or has something told is served from memory, and what is
// told goes out, while the store stands still for ten seconds.
func TestNothingWaitsForAStoreThatStandsStill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &stuck{let: make(chan struct{})}
		mail := &fakeChannel{name: "mail"}
		r := begin(t, store, mail)
		c := NewCollector(r.Dispatcher, nil)
		r.turn(urgent("crop-basil"))
		r.after(time.Second) // the store is at it
		begun := time.Now()
		for range 10 {
			r.turn(urgent("crop-basil"), urgent("high-level"), today("settings"))
			st := r.Status()
			require.NotEmpty(t, st.Alarms)
			id := st.Alarms[0].ID
			require.NoError(t, r.Shelve(id, time.Hour, "Kim"))
			require.NoError(t, r.Shelve(id, 0, "Kim"))
			require.NoError(t, r.Service(id, true, "Kim"))
			require.NoError(t, r.Service(id, false, "Kim"))
			require.NoError(t, r.Acknowledge(0, "Kim"))
			_, err := r.Test()
			require.NoError(t, err)
			_, err = r.Confirm(r.channels["mail"].fares.Code)
			require.NoError(t, err)
			r.Lost()
			testutil.CollectAndCount(c)
			synctest.Wait()
		}
		assert.Zero(t, time.Since(begun), "all that took no time")
		assert.Contains(t, mail.what(), "arose high-level", "and it went out")
		assert.Contains(t, mail.what(), "test test")
		r.after(9 * time.Second)
		assert.True(t, ptr(store.Outbox()).Empty(), "of which storage knows nothing yet")
		close(store.let)
		r.after(time.Second)
		s := store.Outbox()
		assert.Empty(t, s.Waiting)
		assert.False(t, s.Channels["mail"].Confirmed.IsZero())
		shown := r.Status().Alarms
		require.NotEmpty(t, shown)
		for _, a := range shown {
			assert.Contains(t, string(s.Alarms), fmt.Sprintf(`"cause":%q`, a.Cause))
		}
		assert.Contains(t, string(s.Alarms), `"count":11`, "all that was said of it")
		r.stop()
	})
}

func ptr[T any](v T) *T { return &v }

func TestTurnWaitsForNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		block := make(chan struct{})
		mail := &fakeChannel{name: "mail", fails: func(*Message) error { <-block; return nil }}
		r := begin(t, &outbox.Memory{}, mail)
		r.turn(urgent("crop-basil"))
		r.after(time.Second)
		r.mu.Lock() // as if the dispatcher stood still
		begun := time.Now()
		for range 2 * mostTold {
			r.turn(urgent("crop-basil"))
		}
		assert.Zero(t, time.Since(begun))
		r.mu.Unlock()
		synctest.Wait()
		assert.Equal(t, 2, r.Status().Channels[0].Waiting, "a delivery that stands still holds nothing up either")
		close(block)
		r.stop()
	})
}

func TestTroubleOfStorageIsShownAndChangesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail"}
		store := &stuck{let: make(chan struct{}), trouble: errors.New("the card does not answer")}
		close(store.let)
		r := begin(t, store, mail)
		defer r.stop()
		r.turn(urgent("crop-basil"))
		r.after(time.Second)
		assert.Equal(t, []string{"arose crop-basil"}, mail.what())
		assert.Equal(t, "the card does not answer", r.Status().Trouble)
	})
}

// Of what was sent just before a death there may be no record.
func TestNoTwoMessagesEverShareAnID(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail"}
		for range 3 { // each run dies without a record of what it sent
			r := begin(t, &stuck{let: make(chan struct{})}, mail)
			r.turn(urgent("crop-basil"))
			r.after(time.Second)
			close(r.store.(*stuck).let)
			r.stop()
		}
		assert.Len(t, mail.ids(), 3)
	})
}

func TestWhatIsFoundLateIsTakenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		before := &outbox.Memory{}
		var id string
		r := begin(t, before, &fakeChannel{name: "mail", fails: func(p *Message) error { id = p.ID; return errGone }})
		r.turn(urgent("storage"), today("settings"))
		r.after(2 * time.Minute)
		require.NoError(t, r.Acknowledge(1, "Kim"))
		r.after(time.Second)
		r.stop()

		mail := &fakeChannel{name: "mail"}
		store := &stuck{let: make(chan struct{})}
		close(store.let)
		r = begin(t, store, mail)
		defer r.stop()
		r.turn(urgent("storage"))
		r.after(time.Second)
		require.Equal(t, []string{"arose storage"}, mail.what())
		store.onFound(before.Outbox())
		store.onFound(before.Outbox()) // once more changes nothing
		r.after(time.Minute)
		assert.ElementsMatch(t, []string{"arose storage", "arose storage", "arose settings"}, mail.what(), "what waited goes out")
		assert.Contains(t, mail.ids(), id, "under its own id")
		st := r.Status()
		require.Len(t, st.Alarms, 2)
		assert.Equal(t, "Kim", st.Alarms[0].KnownTo, "what was acknowledged is")
		s := store.Outbox()
		assert.True(t, s.Joined)
		assert.Empty(t, s.Waiting)
	})
}

func TestWhatCannotBeReadOfAMessageIsShownAsUndelivered(t *testing.T) {
	store := &outbox.Memory{}
	store.Keep(outbox.State{
		Alarms:  json.RawMessage(`{"next_id": "many"}`),
		Waiting: []outbox.Message{{Seq: 3, ID: "msg_a_3", Channel: "mail", Notice: json.RawMessage(`"?"`)}},
	}, true)
	d := Open(Options{Channels: []Channel{&fakeChannel{name: "mail"}}, Store: store, Rules: alarm.Rules{Zone: time.UTC}}, safety.Now{})
	lost := d.Lost()
	require.Len(t, lost, 1)
	assert.Contains(t, lost[0].Error, "cannot be read any more")
	assert.Equal(t, 1, d.Status().Channels[0].Undelivered)
}

func TestADispatcherThatTakesTheOldOnesPlaceGoesOnFromThatWhateverStorageHas(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		down := &fakeChannel{name: "mail", fails: func(*Message) error { return errGone }}
		r := begin(t, &stuck{let: make(chan struct{})}, down)
		r.turn(urgent("storage"))
		r.after(time.Minute)
		close(r.store.(*stuck).let)
		r.stop()
		before := r.State()
		store := &outbox.Memory{}
		d := Open(Options{Channels: []Channel{down}, Store: store, Before: &before, Boot: "boot", Rules: alarm.Rules{Zone: time.UTC}}, r.safetyNow())
		st := d.Status()
		require.Len(t, st.Alarms, 1)
		assert.Equal(t, 1, st.Channels[0].Waiting)
		d.handOver()
		assert.Len(t, store.Outbox().Waiting, 1, "and storage hears of it")
	})
}
