//go:build pagetest

package pagetest

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// answer is what the first row of acts says.
const answer = `document.querySelector('.benches .answer').textContent`

// looking opens the page of a demo in real time, at the part of it that fragment
// names.
func looking(t *testing.T, on screen, fragment string) *tab {
	p := start(t, "1", "127.0.0.1:0")
	b := newTab(t, on)
	b.open(p.url + fragment)
	b.live()
	return b
}

func TestAFloodByHandSaysWhatWillHappenRunsAndIsStopped(t *testing.T) {
	t.Parallel()
	p := start(t, "60", "127.0.0.1:0")
	p.says(t, "outcome=proven")
	// A bare table rests two minutes more before a flood may start.
	require.Eventually(t, func() bool { return mayFlood(p.url) }, time.Minute, 200*time.Millisecond)
	b := newTab(t, phone)
	b.open(p.url)
	b.live()
	b.presses("Flood now")
	words := asks[string](b, `document.querySelector('.form .words').textContent`)
	assert.Contains(t, words, "It ends by itself")
	assert.True(t, asks[bool](b, `document.activeElement.closest('.form') !== null`), "the focus goes to what has opened")
	b.presses("Flood north now")
	b.until(`/floods once/.test(` + answer + `)`)
	b.until(`/By hand/.test(document.querySelector('.charge').textContent)`)
	b.presses("Stop the flood")
	b.presses("Stop the pump now")
	b.until(`/drains/.test(` + answer + `)`)
	p.says(t, "outcome=interrupted")
}

// mayFlood asks the program whether its one bench may be flooded now.
func mayFlood(url string) bool {
	r, err := http.Get(strings.TrimSuffix(url, "/") + "/api/v1/status")
	if err != nil {
		return false
	}
	defer r.Body.Close()
	var st struct {
		Benches []struct{ Refusal any }
	}
	return json.NewDecoder(r.Body).Decode(&st) == nil && len(st.Benches) == 1 && st.Benches[0].Refusal == nil
}

func TestARefusalIsShownWithItsReason(t *testing.T) {
	t.Parallel()
	b := looking(t, phone, "")
	b.presses("Flood now")
	assert.Contains(t, asks[string](b, `document.querySelector('.form .words').textContent`), "would refuse this now: the pump rests")
	b.presses("Flood north now")
	b.until(`/Refused/.test(` + answer + `)`)
	said := asks[string](b, answer)
	assert.Contains(t, said, "resting between floods")
	assert.Equal(t, "alert", asks[string](b, `document.querySelector('.benches .answer p').getAttribute('role')`))
	t.Log(said)
}

func TestAPauseEndsByItselfAndIsTakenBack(t *testing.T) {
	t.Parallel()
	b := looking(t, phone, "")
	b.presses("Pause")
	b.presses("Pause north")
	b.until(`/no automatic flood until/.test(` + answer + `)`)
	b.until(`/Paused – until 09:1\d today/.test(document.querySelector('.charge').textContent)`)
	b.presses("End the pause")
	b.until(`/Automatic/.test(document.querySelector('.charge').textContent)`)
}

func TestASkipCanBeTakenBackUntilItsTime(t *testing.T) {
	t.Parallel()
	b := looking(t, phone, "")
	b.presses("Skip the next")
	b.presses("Skip 08:30")
	b.until(`/leaves out/.test(` + answer + `)`)
	b.until(`/Skipped: 08:30/.test(document.querySelector('.glance').textContent)`)
	b.presses("Undo")
	b.until(`/comes as planned/.test(` + answer + `)`)
	b.until(`!/Skipped:/.test(document.querySelector('.glance').textContent)`)

	b.presses("Skip the next")
	b.presses("Skip 08:30")
	b.until(`/Skipped: 08:30/.test(document.querySelector('.glance').textContent)`)
	b.presses("Undo the skip")
	b.presses("Flood at 08:30 after all")
	b.until(`!/Skipped:/.test(document.querySelector('.glance').textContent)`)
}

func TestATopUpIsWrittenWithinTenSecondsOfTapping(t *testing.T) {
	t.Parallel()
	b := looking(t, phone, "#diary")
	b.presses("Top-up")
	b.presses("Write it down")
	assert.Contains(t, asks[string](b, `document.querySelector('.form').textContent`), "Please fill this in.", "a missing number is asked for")
	b.does(chromedp.SendKeys(chromedp.CSS(`.form input[name=value]`), "20"))
	b.presses("Write it down")
	b.until(`/Top up 20 L, tank/.test(document.querySelector('.list').textContent)`)
}

// Everything is reached by keys alone, and what has the focus is seen.
func TestKeysAloneAreEnough(t *testing.T) {
	t.Parallel()
	b := looking(t, desktop, "")
	b.until(`!!document.querySelector('svg.section')`)
	reached := map[string]bool{}
	for range 25 {
		b.does(chromedp.KeyEvent("\t"))
		reached[asks[string](b, `document.activeElement.textContent`)] = true
		assert.True(t, asks[bool](b, `document.activeElement === document.body || getComputedStyle(document.activeElement).outlineStyle !== 'none'`), "the focus is seen")
	}
	for _, words := range []string{"To the benches", "Now", "Record", "Diary", "Flood now", "Skip the next", "Pause", "Hands in"} {
		assert.True(t, reached[words], "%s is reached", words)
	}
}

func TestAnAlarmIsKeptSilentAndToldAgain(t *testing.T) {
	t.Parallel()
	p := start(t, "60", "127.0.0.1:0", "--fault", "drain-blocked:north")
	p.says(t, "does not drain")
	b := newTab(t, phone)
	b.open(p.url + "#record")
	b.live()
	b.until(`/Unacknowledged: /.test(document.body.textContent)`)
	b.presses("Keep silent")
	asks[any](b, axe(t)+`;0`)
	b.accessible("phone, record, form Keep silent")
	b.presses("Keep it silent")
	b.until(`/Shelved: /.test(document.body.textContent)`)
	b.presses("Tell again")
	b.presses("Tell of it again")
	b.until(`!/Shelved: /.test(document.body.textContent)`)
}
