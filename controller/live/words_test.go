package live

import (
	"log/slog"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// Every kind of event has words of its own, whatever the rest of it says.
func TestEveryKindOfEventIsNamed(t *testing.T) {
	n := rehearse.Names(planted(t, "2026-03-02", firstStage))
	seen := map[string]bool{}
	name := func(e controller.Event) {
		d := Describe(&n, &e)
		assert.NotEmpty(t, d.Kind, "%+v", e)
		assert.NotEmpty(t, d.Text, "%+v", e)
		assert.False(t, seen[d.Kind], d.Kind)
		seen[d.Kind] = true
	}
	for k := controller.FloodIntended; k <= controller.WaterLost; k++ {
		if k != controller.GuardActed {
			name(controller.Event{Kind: k})
		}
	}
	for k := safety.Tripped; k <= safety.RetryAllowed; k++ {
		name(controller.Event{Kind: controller.GuardActed, Guard: safety.Event{Kind: k}})
	}
}

func TestUrgencySetsTheLevel(t *testing.T) {
	n := rehearse.Names(planted(t, "2026-03-02", firstStage))
	for u, want := range map[controller.Urgency]slog.Level{
		controller.Urgent: slog.LevelError, controller.Today: slog.LevelWarn, controller.ThisWeek: slog.LevelInfo,
	} {
		e := controller.Event{Kind: controller.MessageSent, Message: controller.Message{Urgency: u}}
		assert.Equal(t, want, Describe(&n, &e).Level, u)
	}
}
