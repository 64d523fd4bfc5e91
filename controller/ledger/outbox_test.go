package ledger

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/outbox"
)

// aMessage is message seq, for a channel.
func aMessage(seq int64, channel string) outbox.Message {
	id := "msg_run_" + string(rune('a'+seq))
	return outbox.Message{
		Seq: seq, ID: id, Channel: channel, At: noon(1).Wall, Left: 7 * 24 * time.Hour,
		Notice: json.RawMessage(`{"Kind":"arose","Alarm":{"id":` + string(rune('0'+seq)) + `,"cause":"drain-window","urgency":"now"},"Second":false,"Subject":"[now] north","Body":"The \"drain\" is slow.\n"}`),
	}
}

// anOutbox has something of everything.
func anOutbox() outbox.State {
	return outbox.State{
		Alarms:   json.RawMessage(`{"next_id":3,"alarms":[{"id":1,"cause":"drain-window","known":true,"known_to":"Kim"}]}`),
		Channels: map[string]outbox.Channel{"mail": {Sent: noon(1).Wall, Confirmed: noon(2).Wall}, "mqtt": {Code: "123456", Asked: noon(3).Wall}},
		Waiting:  []outbox.Message{aMessage(4, "mail"), aMessage(5, "mqtt")},
		Lost:     []outbox.Lost{{ID: "msg_run_z", Channel: "mail", At: noon(1).Wall, Subject: "[today] settings", Error: "no route"}, {ID: "msg_run_b", Channel: "mqtt", At: noon(1).Wall, Subject: "x", Error: "y"}},
	}
}

// keptOutbox stores a state in a new directory and returns it closed.
func keptOutbox(t *testing.T, s outbox.State) string {
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits})
	require.True(t, ptr(l.Outbox()).Empty(), "a new ledger knows of no message")
	l.Record(nil, aCheckpoint())
	l.Keep(s, true)
	require.NoError(t, l.Close())
	return dir
}

func ptr[T any](v T) *T { return &v }

// justLedger and justCopy leave one of the two places alone.
func justLedger(t *testing.T, dir string) {
	require.NoError(t, os.Remove(filepath.Join(dir, copyName)))
}

func justCopy(t *testing.T, dir string) {
	for _, end := range append([]string{""}, beside...) {
		_ = os.Remove(filepath.Join(dir, fileName+end))
	}
}

func TestTheOutboxComesBackWholeFromTheLedgerAndFromTheCopy(t *testing.T) {
	t.Parallel()
	for name, leave := range map[string]func(*testing.T, string){"ledger": justLedger, "copy": justCopy, "both": func(*testing.T, string) {}} {
		t.Run(name, func(t *testing.T) {
			dir := keptOutbox(t, anOutbox())
			leave(t, dir)
			for range 2 { // and once more, from what was made of it
				l, r := open(t, dir, Options{Limits: limits})
				require.NoError(t, r.Messages)
				require.Equal(t, anOutbox(), l.Outbox())
				require.NoError(t, l.Close())
				require.FileExists(t, filepath.Join(dir, copyName))
			}
		})
	}
}

func TestOfTheOutboxOnlyWhatHasChangedIsWritten(t *testing.T) {
	t.Parallel()
	dir := keptOutbox(t, anOutbox())
	l, _ := open(t, dir, Options{Limits: limits})
	changes := func() (n int) {
		require.NoError(t, l.store.db.QueryRow("SELECT total_changes()").Scan(&n))
		return n
	}
	before := changes()
	l.Keep(anOutbox(), true)
	require.NoError(t, l.Flush(t.Context()))
	assert.Equal(t, before, changes(), "the same again")
	s := anOutbox()
	s.Waiting = s.Waiting[1:]
	s.Channels["mail"] = outbox.Channel{Sent: noon(4).Wall, Confirmed: noon(2).Wall}
	l.Keep(s, true)
	require.NoError(t, l.Flush(t.Context()))
	assert.Equal(t, before+3, changes(), "a message less, a channel's time, and the revision")
	require.NoError(t, l.Close())
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Equal(t, s, l.Outbox())
}

func TestAFileTakenAwayIsBegunAnewWithTheOutbox(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	l, _ := open(t, dir, Options{Limits: limits})
	l.Keep(anOutbox(), true)
	require.NoError(t, l.Flush(t.Context()))
	justCopy(t, dir)
	justLedger(t, dir)
	require.NoError(t, l.Add(t.Context(), Diary{At: When{noon(1).Wall}, Kind: Note, Text: "something else"}))
	require.NoError(t, l.Close())
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Equal(t, anOutbox(), l.Outbox())
}

func TestTheNewerOfLedgerAndCopyIsGoneOnFrom(t *testing.T) {
	t.Parallel()
	older, newer := anOutbox(), anOutbox()
	newer.Waiting = newer.Waiting[1:] // one went out
	dir := keptOutbox(t, older)
	var f failing
	l, _, err := Open(dir, Options{Limits: limits, Fault: f.fault})
	require.NoError(t, err)
	f.step.Store("begin") // the ledger takes nothing, the directory does
	l.Keep(newer, true)
	require.NoError(t, l.Close(), "the copy has it")
	l, r := open(t, dir, Options{Limits: limits})
	require.NoError(t, r.Messages)
	require.Equal(t, newer, l.Outbox(), "what went out is not sent again")
	require.NoError(t, l.Close())

	copied, err := os.ReadFile(filepath.Join(dir, copyName))
	require.NoError(t, err)
	l, _ = open(t, dir, Options{Limits: limits})
	newest := newer
	newest.Lost = newest.Lost[1:]
	l.Keep(newest, true)
	require.NoError(t, l.Close())
	require.NoError(t, os.WriteFile(filepath.Join(dir, copyName), copied, 0o640))
	l, _ = open(t, dir, Options{Limits: limits})
	assert.Equal(t, newest, l.Outbox(), "an old copy changes nothing")
}

func TestWhatNeitherLedgerNorCopyTookIsSaidToBeLost(t *testing.T) {
	t.Parallel()
	var f failing
	l, _, err := Open(t.TempDir(), Options{Limits: limits, Fault: func(step string) error {
		if step == "copy" {
			step = "begin"
		}
		return f.fault(step)
	}})
	require.NoError(t, err)
	f.step.Store("begin")
	l.Keep(anOutbox(), true)
	require.ErrorContains(t, l.Close(), "the latest of the messages is lost")
}

func TestACopyOfTheMessagesThatCannotBeReplacedIsNone(t *testing.T) {
	t.Parallel()
	var f failing
	dir := t.TempDir()
	l, _, err := Open(dir, Options{Limits: limits, Fault: f.fault})
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(filepath.Join(dir, copyName, "in the way"), 0o750))
	f.step.Store("begin")
	l.Keep(anOutbox(), true)
	require.ErrorContains(t, l.Close(), "the latest of the messages is lost")
}

func TestTheMessagesOfAnotherSiteAreSentByNobodyHere(t *testing.T) {
	t.Parallel()
	for name, leave := range map[string]func(*testing.T, string){"ledger": justLedger, "copy": justCopy, "both": func(*testing.T, string) {}} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			l, _ := open(t, dir, Options{Limits: limits, Site: "elsewhere"})
			l.Record(nil, aCheckpoint())
			l.Keep(anOutbox(), true)
			require.NoError(t, l.Close())
			leave(t, dir)
			l, _ = open(t, dir, Options{Limits: limits, Site: "here"})
			assert.True(t, ptr(l.Outbox()).Empty())
			require.NoError(t, l.Close())
			l, _ = open(t, dir, Options{Limits: limits, Site: "elsewhere", Formerly: []string{"here"}})
			assert.Empty(t, l.Outbox().Waiting, "nor by a site of either name: its files are set aside")
		})
	}
}

// What storage held back at the start belongs to whoever sends once it was joined
// to the rest: what has gone out since does not wait again.
func TestWhatWasJoinedOnceIsNotJoinedAgain(t *testing.T) {
	t.Parallel()
	waiting := func(ids ...string) (all []outbox.Message) {
		for _, id := range ids {
			all = append(all, outbox.Message{ID: id, Channel: "mail"})
		}
		return all
	}
	ids := func(s *outbox.State) (all []string) {
		for _, p := range s.Waiting {
			all = append(all, p.ID)
		}
		return all
	}
	p := &post{late: &outbox.State{Waiting: waiting("late")}}
	for _, step := range []struct {
		keep outbox.State
		want []string
	}{
		{outbox.State{Waiting: waiting("new")}, []string{"late", "new"}},
		{outbox.State{Waiting: waiting("late", "new"), Joined: true}, []string{"late", "new"}},
		{outbox.State{Waiting: waiting("new"), Joined: true}, []string{"new"}},
	} {
		p.take(&handed{State: step.keep})
		assert.ElementsMatch(t, step.want, ids(p.newest))
	}
}
