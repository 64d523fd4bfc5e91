package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

func TestLitresSayWhatTheyRestOn(t *testing.T) {
	now := time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	today, before := now.Add(-178*time.Minute), now.Add(-50*time.Hour)
	span := [2]safety.Litres{135.6, 140.4}
	for want, r := range map[string]controller.ReservoirStatus{
		"138 L, weighed 09:02, between 136 and 140 L":                                {Litres: 138, Span: span, Basis: controller.Weighed, Since: today},
		"138 L, weighed Mon 2 Mar 10:00, between 136 and 140 L":                      {Litres: 138, Span: span, Basis: controller.Weighed, Since: before},
		"138 L, as written down 09:02, between 136 and 140 L":                        {Litres: 138, Span: span, Basis: controller.Noted, Since: today},
		"138 L expected, between 136 and 140 L, from what was known Mon 2 Mar 10:00": {Litres: 138, Span: span, Basis: controller.Expected, Since: before},
		"200 L with what is on its tables, weighed 09:02, between 196 and 204 L": {
			Litres: 50, Give: 4, Whole: 200, Span: [2]safety.Litres{46, 204}, Basis: controller.Weighed, Since: today,
		},
		"not known since 09:02": {Basis: controller.Unknown, Since: today},
		"not known since 09:02; it last held 200 L, Mon 2 Mar 10:00":                                               {Basis: controller.Unknown, Since: today, Had: 200, HadAt: before},
		"not known since 09:02; it last held 200 L, Mon 2 Mar 10:00; its switch shows that it holds 155 L or more": {Litres: 155, Basis: controller.Unknown, Since: today, Had: 200, HadAt: before},
	} {
		assert.Equal(t, want, waterWords(&r, quantity.Metric, time.UTC, now))
	}
}

func TestLostWaterAsksForALookUntilAPersonHasSaidWhereItIs(t *testing.T) {
	north := "north"
	st := Status{At: "2026-03-04T12:00:00+00:00", ClockTrusted: true, Commissioning: CommissioningStatus{Unattended: true}}
	lost := Unexplained{Litres: 22.3, Bench: &north, From: "2026-03-04T09:00:00+00:00", At: "2026-03-04T11:00:00+00:00"}
	st.Reservoirs = []ReservoirStatus{{Name: "tank", Missing: &lost}}
	st.Attend()
	require.Len(t, st.Needs, 1)
	assert.Equal(t, "north", st.Needs[0].Bench)
	assert.Equal(t, "north: about 22 L more than the plants can have drunk are missing since 09:00. Switch off at the mains first, with dry hands. Look for water under the table and at the hose. If you took it out, say so.", st.Needs[0].Text)

	lost.Bench = nil
	st.Attend()
	assert.Contains(t, st.Needs[0].Text, "tank: about 22 L")
	for _, gone := range []Unexplained{{Litres: 22, Answer: "taken-out", At: lost.At, From: lost.From}, {Litres: 22, At: "2026-02-20T11:00:00+00:00", From: lost.From}} {
		st.Reservoirs[0].Missing = &gone
		st.Attend()
		assert.Empty(t, st.Needs)
	}
	st.Reservoirs[0] = ReservoirStatus{Name: "tank", Came: &Unexplained{Litres: 40}}
	st.Attend()
	assert.Empty(t, st.Needs, "a top-up is a normal life")
}

func TestWaterThatIsKnownIsNotWrittenDownTwiceUnasked(t *testing.T) {
	weighed := time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	now := weighed.Add(time.Hour)
	for name, c := range map[string]struct {
		kind   string
		litres float64
		at     time.Time
		answer controller.Answer
		asked  bool
	}{
		"what came":                      {"top-up", 40, now, controller.Open, true},
		"with the time of pouring":       {"top-up", 40, weighed.Add(-time.Hour), controller.Open, false},
		"said by another person already": {"top-up", 42, now, controller.Poured, true},
		"more water":                     {"top-up", 12, now, controller.Poured, false},
		"nobody had poured":              {"top-up", 40, now, controller.Nobody, false},
		"days later":                     {"top-up", 40, weighed.Add(lately), controller.Open, false},
		"what is missing":                {"taken-out", 20, now, controller.Open, true},
		"taken out already":              {"taken-out", 44, now, controller.TakenOut, true},
		"other things":                   {"ec", 1.2, now, controller.Open, false},
	} {
		u := controller.Unexplained{Litres: 44, From: weighed.Add(-3 * time.Hour), At: weighed, Answer: c.answer}
		written := now
		if c.at.After(now) {
			written = c.at
		}
		asked := askedOfWater(Note{At: c.at, Now: written, Kind: c.kind, Value: &c.litres}, &controller.ReservoirStatus{Missing: u, Came: u}, &controller.Names{Zone: time.UTC})
		assert.Equal(t, c.asked, len(asked) == 1, "%s: %v", name, asked)
	}
}
