package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/safety"
)

func TestEveryInterlockIsCalledWhatPeopleCallIt(t *testing.T) {
	seen := map[string]bool{}
	for _, i := range append([]safety.Interlock{safety.HandsIn, Paused, Sanitising, Attended}, safety.Interlocks...) {
		words := Called(i)
		assert.NotContains(t, words, "-", i)
		assert.Equal(t, strings.ToUpper(words[:1]), words[:1])
		assert.False(t, seen[words], "%s: two are called so", words)
		seen[words] = true
	}
	assert.Equal(t, "another", Called("another"))
	assert.Equal(t, "water too high: HIGH shows water", saying("high-level: HIGH shows water"))
	assert.Equal(t, "resting between floods", saying("min-rest"))
	assert.Equal(t, "stopped by hand", saying("stopped by hand"))
	assert.Equal(t, "the clock: it stepped", saying("the clock: it stepped"))
}

// No message that a person reads has a name that is for programs.
func TestMessagesNameNoInterlock(t *testing.T) {
	for name, fault := range map[string]func(*rig){
		"dead":    func(r *rig) { r.tables[0].dead = true },
		"blocked": func(r *rig) { r.tables[0].blocked = true },
		"high":    func(r *rig) { r.tables[0].high = true },
		"dry":     func(r *rig) { r.tables[0].lowDry = true },
		"stuck":   func(r *rig) { r.tables[0].stuck = true },
		"lost": func(r *rig) {
			r.until("2026-03-02 08:30:00")
			r.guard.FoundLost(r.now, 0, "12 L are gone")
		},
	} {
		r := newRig(t, testSetup(1, 30*time.Hour, "09:00", "15:00"), "2026-03-02 08:00")
		fault(r)
		r.run(30 * time.Hour)
		assert.NotEmpty(t, r.messages, name)
		for _, m := range r.messages {
			for _, i := range safety.Interlocks {
				if strings.Contains(string(i), "-") {
					assert.NotContains(t, m, string(i), name)
				}
			}
		}
	}
}
