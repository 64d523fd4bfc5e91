package main

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/grow"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

func TestThePlantsAreLookedAtOnceAMorningButNotTwiceForAStart(t *testing.T) {
	var looks []string
	a := &adviser{zone: time.UTC, look: func(now time.Time) { looks = append(looks, now.Format("2 15:04")) }}
	turn := func(text string, trusted bool) {
		at, err := time.Parse("2006-01-02 15:04", text)
		require.NoError(t, err)
		a.Turn(&loop.Turn{Now: safety.Now{Wall: at, Trusted: trusted}})
	}
	turn("2026-03-02 09:30", true) // a start
	turn("2026-03-02 15:00", true)
	turn("2026-03-03 07:59", true)
	turn("2026-03-03 08:10", false)
	turn("2026-03-03 08:20", true)
	turn("2026-03-03 09:00", true)
	turn("2026-03-05 12:00", true)
	assert.Equal(t, []string{"3 08:20", "5 12:00"}, looks)
}

func TestWhatRecordsProposeAndAskIsToldOnceAWeekAndChangesNothing(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage, `{from_day: 40, flood_at: ["09:00", "15:00"], hold: 4 min, strength: 50 %, can_wait: 30 h}`)
	start := time.Date(2026, 3, 10, 9, 0, 0, 0, site.Zone)
	r := &grow.Record{Diary: map[string][]grow.Entry{}}
	live := &liveSite{site: site, loop: &loop.Loop{}, names: webNames(site, rehearse.Names(site))}
	live.grown = func(_ context.Context, now time.Time) (*grow.Record, error) {
		r.Now = now
		return r, nil
	}
	var told []controller.Message
	a := &advice{site: live, told: map[string]time.Time{}, tell: func(_ context.Context, m controller.Message) { told = append(told, m) }}
	a.give(t.Context(), start)
	assert.Empty(t, told)

	for i := range 3 {
		r.Diary["basil_spring"] = append(r.Diary["basil_spring"], grow.Entry{At: start.Add(time.Duration(i) * time.Hour), Kind: grow.Moisture, Value: 1})
	}
	r.Diary["basil_spring"] = append(r.Diary["basil_spring"], grow.Entry{At: start, Kind: grow.MovedOut, Value: 96})
	for d := 1; d <= 4; d++ {
		a.give(t.Context(), start.AddDate(0, 0, d))
	}
	require.Len(t, told, 2)
	assert.Equal(t, controller.ThisWeek, told[0].Urgency)
	assert.Contains(t, told[0].Text, "basil_spring might enter its stage from day 40, daily at 09:00 and 15:00: its pots score 1.0 of 5")
	assert.Contains(t, told[0].Text, "It does so when you advance it.")
	assert.Contains(t, told[1].Text, "no pot of basil_spring is left")
	a.give(t.Context(), start.AddDate(0, 0, 9))
	assert.Len(t, told, 4, "both once more")
	assert.Nil(t, site.Batches[0].Passages)
}
