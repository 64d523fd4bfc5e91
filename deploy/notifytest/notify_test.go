//go:build notifytest

package notifytest

import (
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	_ "modernc.org/sqlite"
)

// about finds the first letter about a cause.
func about(all []letter, subject string) *letter {
	for i := range all {
		if strings.Contains(all[i].subject, subject) {
			return &all[i]
		}
	}
	return nil
}

func of(all []post, cause string) *post {
	for i := range all {
		if all[i].Data.Cause == cause {
			return &all[i]
		}
	}
	return nil
}

func TestBlockedDrainReachesMailWebhookBrokerLampAndHorn(t *testing.T) {
	s := newSite(t, true)
	mail, hooks := s.mailServer(), s.hooks()
	d := s.start("--fault", "drain-blocked:north")
	latched := d.awaited(`message \(now\): north: water too high`)

	d.wait("the mail", func() bool { return about(mail.received(), "ater too high") != nil })
	d.wait("the webhook", func() bool { return of(hooks.received(), "high-level") != nil })
	d.wait("the event", func() bool { return of(s.broker.received(), "high-level") != nil })
	letter, hook, event := about(mail.received(), "ater too high"), of(hooks.received(), "high-level"), of(s.broker.received(), "high-level")
	t.Logf("after the controller latched: mail %s, webhook %s, MQTT %s",
		letter.at.Sub(latched).Round(time.Millisecond), hook.at.Sub(latched).Round(time.Millisecond), event.at.Sub(latched).Round(time.Millisecond))
	t.Logf("the mail:\nSubject: %s\nMessage-ID: %s\n\n%s", letter.subject, letter.id, letter.body)

	assert.Equal(t, "[now] Quarry Lane school greenhouse, north: Water too high", letter.subject)
	assert.Equal(t, []string{"grower@example.org"}, letter.to)
	assert.Equal(t, "auto-generated", letter.header.Get("Auto-Submitted"))
	for _, part := range []string{"What happened\n", "What was done\n", "What to do\n", "By when\n  Now: within the hour. The plants on north can wait for water until "} {
		assert.Contains(t, letter.body, part)
	}
	for _, p := range []*post{hook, event} {
		assert.Equal(t, "alarm.arose", p.Type)
		assert.Equal(t, "now", p.Data.Urgency)
		assert.Equal(t, "unacknowledged", p.Data.State)
		assert.Equal(t, "Its pump stays off until a person resets it.", p.Data.Done)
		assert.NotEmpty(t, p.Data.By)
	}
	d.awaited(`msg="beacon on"`)
	d.awaited(`msg="horn on"`)
	d.wait("the retained state", func() bool {
		return strings.Contains(s.broker.retained("alarms"), `"cause":"high-level"`) && strings.Contains(s.broker.retained("benches/north"), `"latched":["high-level"`)
	})
	assert.Equal(t, "true", s.broker.retained("online"))

	d.wait("the second person's mail", func() bool {
		for _, l := range mail.received() {
			if l.to[0] == "neighbour@example.org" {
				return true
			}
		}
		return false
	})
	assert.Contains(t, d.ask("alarms"), "[now] unacknowledged")
	assert.Contains(t, d.ask("acknowledge", "all", "--by", "Kim"), "nothing is reset")
	d.awaited(`msg="horn off"`)
	assert.Contains(t, d.ask("alarms"), "[now] acknowledged")
	assert.Contains(t, d.ask("status"), "Water too high", "acknowledging resets nothing")

	beats := hooks.beaten()
	assert.Positive(t, beats)
	d.wait("another heartbeat", func() bool { return hooks.beaten() > beats })
	d.kill()
	d.wait("the last will", func() bool { return s.broker.retained("online") == "false" })
	beats = hooks.beaten()
	time.Sleep(11 * time.Second) // longer than a period, in the real time of two programs
	assert.Equal(t, beats, hooks.beaten(), "a dead program has no heartbeat")
}

// urgentIDs are the ids of the letters for now, each with how often it came.
func urgentIDs(all []letter, kind string) map[string]int {
	ids := map[string]int{}
	for _, l := range all {
		if strings.HasPrefix(l.subject, "[now] "+kind) && l.to[0] == "grower@example.org" {
			ids[l.id]++
		}
	}
	return ids
}

// arose are the beginnings of subjects of the first letter about something
// urgent; reminders begin with still.
const arose = "Quarry"

func TestKilledBetweenQueueingAndSendingEveryUrgentMessageArrivesOnce(t *testing.T) {
	s := newSite(t, false)
	d := s.start("--fault", "drain-blocked:north") // nobody listens yet
	d.awaited(`message \(now\): north: does not drain`)
	var queued struct {
		Messages struct {
			Ways []struct {
				Name    string
				Waiting int
				Trouble *string
			}
		}
	}
	d.wait("the queue", func() bool {
		require.NoError(t, json.Unmarshal([]byte(d.ask("status", "--json")), &queued))
		return queued.Messages.Ways[0].Waiting >= 2 && queued.Messages.Ways[0].Trouble != nil
	})
	assert.Contains(t, d.ask("status"), "does not get out")
	d.kill()

	mail, hooks := s.mailServer(), s.hooks()
	begun := time.Now()
	d = s.start()
	d.wait("the mail", func() bool { return len(urgentIDs(mail.received(), arose)) >= 1 })
	d.wait("the webhook", func() bool { return of(hooks.received(), "high-level") != nil })
	t.Logf("after the restart: the urgent mail and webhook within %s", time.Since(begun).Round(time.Millisecond))
	time.Sleep(time.Second) // for one too many
	told := 0
	for _, l := range mail.received() {
		t.Log(l.subject)
		if strings.Contains(l.body, "does not drain") {
			told++
		}
	}
	assert.Positive(t, told, "that it does not drain either stands in the history of the one alarm")
	for id, n := range urgentIDs(mail.received(), arose) {
		assert.Equal(t, 1, n, id)
	}
}

func TestKilledBetweenTheReceiversYesAndTheNoteOfItTheSecondMailHasTheSameID(t *testing.T) {
	s := newSite(t, false)
	mail := s.mailServer()
	mail.set(func() { mail.mute = true })
	d := s.start("--fault", "drain-blocked:north")
	d.wait("a mail without an answer", func() bool { return about(mail.received(), "ater too high") != nil })
	d.wait("the record of it", func() bool { return s.onRecord(about(mail.received(), "ater too high").id) })
	d.kill()
	mail.set(func() { mail.mute = false })
	d = s.start()
	d.wait("the mail again", func() bool {
		for _, n := range urgentIDs(mail.received(), arose) {
			if n > 1 {
				return true
			}
		}
		return false
	})
	letters := map[string]string{}
	for _, l := range mail.received() {
		if before, ok := letters[l.id]; ok {
			assert.Equal(t, before, l.subject+l.body, "one id is one letter")
		}
		letters[l.id] = l.subject + l.body
	}
	t.Logf("%d letters came in, %d different ids: a receiver that leaves out an id it has seen has each once", len(mail.received()), len(letters))
}

// onRecord reports whether storage has heard of the message that a letter's id
// stands for. One that left and was not written down before the program died is
// told again, under an id of its own.
//
// While the program runs nobody else can open its ledger; so a copy is asked, as
// a death at this moment would leave it.
func (s *site) onRecord(letter string) bool {
	dir := s.t.TempDir()
	for _, name := range []string{"ledger.db", "ledger.db-wal"} {
		data, err := os.ReadFile(filepath.Join(s.dir, "state", name))
		require.NoError(s.t, err)
		require.NoError(s.t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "ledger.db"))
	require.NoError(s.t, err)
	defer db.Close()
	rows, err := db.Query("SELECT id FROM parcels")
	if err != nil {
		return false // it was written to while it was copied
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		require.NoError(s.t, rows.Scan(&id))
		if strings.Contains(letter, id) {
			return true
		}
	}
	return false
}

func TestConnectionsThatAreCutLoseNothing(t *testing.T) {
	s := newSite(t, false)
	mail := s.mailServer()
	verbs := []string{"EHLO", "STARTTLS", "AUTH", "MAIL", "RCPT", "DATA"}
	cuts := 0
	mail.set(func() {
		mail.cut = func(line string) bool { // each connection is cut one word later than the one before
			if cuts < len(verbs) && strings.HasPrefix(strings.ToUpper(line), verbs[cuts]) {
				cuts++
				return true
			}
			return false
		}
	})
	d := s.start("--fault", "drain-blocked:north")
	d.wait("both urgent mails", func() bool { return len(urgentIDs(mail.received(), arose)) >= 2 })
	mail.set(func() { assert.Equal(t, len(verbs), cuts) })
	for id, n := range urgentIDs(mail.received(), arose) {
		assert.Equal(t, 1, n, id)
	}
}

func TestTestMessageIsAnsweredAndTheStatusSaysWhen(t *testing.T) {
	s := newSite(t, true)
	mail, hooks := s.mailServer(), s.hooks()
	d := s.start()
	d.awaited(`stirrer on`)
	assert.Contains(t, d.ask("status"), `never confirmed: try "benchtide test-message"`)
	assert.Contains(t, d.ask("test-message"), "by 4 ways")
	d.wait("a test by each way", func() bool {
		return len(mail.received()) >= 2 && of(hooks.received(), "test") != nil && of(s.broker.received(), "test") != nil
	})
	code := regexp.MustCompile(`benchtide confirm (\d{6})`)
	var mine string
	for _, l := range mail.received() {
		if l.to[0] == "grower@example.org" {
			mine = code.FindStringSubmatch(l.body)[1]
		}
	}
	assert.Contains(t, d.ask("confirm", mine), "messages by mail are confirmed")
	assert.Regexp(t, `mail +last confirmed \w+ \d+ Mar 2026`, d.ask("status"))
	assert.Regexp(t, `second mail +never confirmed`, d.ask("status"))
}

func TestSecretThatIsMissingIsToldByTheChannelsThatWork(t *testing.T) {
	s := newSite(t, false)
	require.NoError(t, os.Remove(filepath.Join(s.dir, "mail_password")))
	hooks := s.hooks()
	s.mailServer()
	d := s.start()
	d.wait("word of it by the webhook", func() bool { return of(hooks.received(), "messages") != nil })
	p := of(hooks.received(), "messages")
	assert.Contains(t, p.Data.Text, "mail_password")
	assert.NotContains(t, p.Data.Text, hookKey)
	s.secret("mail_password", mailPassword)
	d.ask("test-message")
	d.wait("the mail, without a restart", func() bool {
		return strings.Contains(d.ask("status"), "mail") && !strings.Contains(d.ask("status"), "does not get out")
	})
}
