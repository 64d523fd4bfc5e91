package ledger

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/notify"
	"benchtide/controller/notify/alarm"
)

var _ notify.Store = (*Ledger)(nil)

// mailbox is a channel that takes everything while it is open.
type mailbox struct {
	shut atomic.Bool
	took chan *notify.Message
}

func newMailbox() *mailbox { return &mailbox{took: make(chan *notify.Message, 1000)} }

func (m *mailbox) Name() string { return "mail" }
func (m *mailbox) Second() bool { return false }

func (m *mailbox) Send(_ context.Context, p *notify.Message) error {
	if m.shut.Load() {
		return errors.New("no route to host")
	}
	m.took <- p
	return nil
}

// awaited is the next message.
func (m *mailbox) awaited(t *testing.T) *notify.Message {
	t.Helper()
	select {
	case p := <-m.took:
		return p
	case <-time.After(time.Minute):
		require.Fail(t, "no message came")
		return nil
	}
}

// dispatcherOn is a dispatcher that keeps its messages in a ledger; stop ends it.
func dispatcherOn(l *Ledger, m *mailbox) (d *notify.Dispatcher, stop func()) {
	d = notify.Open(notify.Options{
		Rules:    alarm.Rules{Zone: time.UTC, Repeat: 15 * time.Minute, DigestDay: time.Friday},
		Names:    controller.Names{Site: "greenhouse", Benches: []string{"north", "south"}},
		Channels: []notify.Channel{m}, Store: l, Boot: "boot",
	}, noon(1))
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		d.Run(ctx)
		close(ended)
	}()
	return d, func() {
		cancel()
		<-ended
	}
}

// tell has the dispatcher told of something urgent.
func tell(d *notify.Dispatcher, cause string) {
	m := controller.Message{Urgency: controller.Urgent, Bench: -1, Cause: cause, Text: cause, Parts: controller.Parts{Happened: cause}}
	d.Turn(&loop.Turn{Now: noon(1), Events: []controller.Event{{Kind: controller.MessageSent, At: noon(1), Bench: -1, Output: -1, Message: m}}})
}

// arrives has each of n alarms told and awaits it.
func arrives(t *testing.T, d *notify.Dispatcher, m *mailbox, n int) {
	t.Helper()
	for i := range n {
		cause := fmt.Sprintf("wiring-%d", i)
		tell(d, cause)
		assert.Equal(t, cause, m.awaited(t).Notice.Alarm.Cause)
	}
}

// The writer stands in a commit for ten seconds: nobody notices.
func TestMessagesGoOutAndAreAskedAfterWhileTheWriterStandsInACommit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := atomic.Bool{}
		l, _, err := Open(t.TempDir(), Options{Limits: limits, Fault: func(step string) error {
			if step == "commit" && slow.Load() {
				time.Sleep(10 * time.Second)
			}
			return nil
		}})
		require.NoError(t, err)
		m := newMailbox()
		d, stop := dispatcherOn(l, m)
		synctest.Wait()
		slow.Store(true)
		tell(d, "wiring")
		synctest.Wait()
		begun := time.Now()
		for i := range 20 {
			tell(d, fmt.Sprint("wiring-", i))
			synctest.Wait()
			st := d.Status()
			require.NotEmpty(t, st.Alarms)
			require.NoError(t, d.Acknowledge(0, "Kim"))
			_, err := d.Test()
			require.NoError(t, err)
			d.Lost()
			synctest.Wait()
		}
		assert.Zero(t, time.Since(begun), "all that took no time")
		assert.Len(t, m.took, 1+20+20, "each message and each test went out meanwhile")
		stop()
		slow.Store(false)
		require.NoError(t, l.Close())
	})
}

func TestEachAlarmArrivesWhileTheDatabaseIsLocked(t *testing.T) {
	t.Parallel()
	dir := keptOutbox(t, anOutbox())
	l, _ := open(t, dir, Options{Limits: limits})
	other, err := connect(filepath.Join(dir, fileName), writing)
	require.NoError(t, err)
	defer func() { _ = other.Close() }()
	tx, err := other.Begin() // takes the lock of a writer
	require.NoError(t, err)
	m := newMailbox()
	d, stop := dispatcherOn(l, m)
	assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited")
	arrives(t, d, m, 3)
	d.Status()
	require.NoError(t, tx.Rollback())
	stop()
	require.NoError(t, l.Close())
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Len(t, l.Outbox().Waiting, 0, "and all was written down once it could be")
}

func TestEachAlarmArrivesWhenTheDatabaseIsLockedAtTheStart(t *testing.T) {
	t.Parallel()
	dir := keptOutbox(t, anOutbox())
	justLedger(t, dir)
	other, err := connect(filepath.Join(dir, fileName), writing)
	require.NoError(t, err)
	defer func() { _ = other.Close() }()
	tx, err := other.Begin()
	require.NoError(t, err)
	defer func() { _ = tx.Rollback() }()
	l, r := open(t, dir, Options{Limits: limits})
	require.ErrorContains(t, r.Trouble, "locked")
	m := newMailbox()
	d, stop := dispatcherOn(l, m)
	assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited")
	arrives(t, d, m, 3)
	assert.Contains(t, d.Status().Trouble, "locked")
	stop()
}

func TestEachAlarmArrivesWhenTheDatabaseIsDamaged(t *testing.T) {
	t.Parallel()
	for name, damage := range damages {
		t.Run(name, func(t *testing.T) {
			s := anOutbox()
			s.Alarms = json.RawMessage(`{"next_id":3,"alarms":[{"id":1,"cause":"flood","urgency":"now","active":true,"known":true,"known_to":"Kim"}]}`)
			dir := keptOutbox(t, s)
			spoil(t, filepath.Join(dir, fileName), damage)
			l, _ := open(t, dir, Options{Limits: limits})
			m := newMailbox()
			d, stop := dispatcherOn(l, m)
			assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited")
			arrives(t, d, m, 3)
			assert.Equal(t, "Kim", d.Status().Alarms[0].KnownTo, "and what was acknowledged is")
			stop()
		})
	}
}

func TestEachAlarmArrivesWhenTheDatabaseIsNewerThanTheProgram(t *testing.T) {
	t.Parallel()
	dir := keptOutbox(t, anOutbox())
	madeNewer(t, dir)
	before := contents(t, dir)
	l, r := open(t, dir, Options{Limits: limits})
	require.ErrorIs(t, r.Trouble, errNewer)
	m := newMailbox()
	d, stop := dispatcherOn(l, m)
	assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited, by the copy")
	arrives(t, d, m, 3)
	stop()
	_ = l.Close()
	assert.Equal(t, before, contents(t, dir))
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Empty(t, l.Outbox().Waiting, "nothing is sent again")
}

// SQLite itself refuses each write, as on a full card and on one that takes none.
func TestEachAlarmArrivesWhileTheDatabaseTakesNoWrites(t *testing.T) {
	t.Parallel()
	for says, pragma := range map[string]string{"full": "PRAGMA max_page_count = 1", "readonly": "PRAGMA query_only = 1"} {
		t.Run(says, func(t *testing.T) {
			dir := keptOutbox(t, anOutbox())
			bad := atomic.Bool{}
			var l *Ledger
			l, _, err := Open(dir, Options{Limits: limits, Fault: func(step string) error {
				if step == "begin" && bad.Load() {
					_, _ = l.store.db.Exec(pragma)
				}
				return nil
			}})
			require.NoError(t, err)
			bad.Store(true)
			m := newMailbox()
			d, stop := dispatcherOn(l, m)
			assert.Equal(t, "msg_run_e", m.awaited(t).ID, "what waited")
			arrives(t, d, m, 200) // more than the pages that are there have room for
			require.NoError(t, d.Acknowledge(0, "Kim"))
			stop()
			require.NoError(t, l.Close(), "the copy has it")
			l, _ = open(t, dir, Options{Limits: limits})
			assert.Empty(t, l.Outbox().Waiting, "nothing is sent again")
			assert.NotContains(t, string(l.Outbox().Alarms), `"known":false`)
		})
	}
}

func TestMessagesThatWaitOutlastAProgramAndItsLedger(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits})
	m := newMailbox()
	m.shut.Store(true)
	d, stop := dispatcherOn(l, m)
	tell(d, "wiring")
	require.Eventually(t, func() bool { return d.Status().Channels[0].Trouble != "" }, 10*time.Second, time.Millisecond)
	id := d.Status().Alarms[0].ID
	require.NoError(t, d.Acknowledge(id, "Kim"))
	stop()
	require.NoError(t, l.Close())
	require.NoError(t, os.Remove(filepath.Join(dir, fileName)))
	l, _ = open(t, dir, Options{Limits: limits})
	m = newMailbox()
	d, stop = dispatcherOn(l, m)
	defer stop()
	assert.Equal(t, "wiring", m.awaited(t).Notice.Alarm.Cause)
	require.Empty(t, d.Status().Trouble)
}
