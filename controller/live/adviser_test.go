package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

func TestThePlantsAreLookedAtOnceAMorningButNotTwiceForAStart(t *testing.T) {
	var looks []string
	a := adviser{zone: time.UTC}
	turn := func(text string, trusted bool) {
		at, err := time.Parse("2006-01-02 15:04", text)
		require.NoError(t, err)
		if a.due(&loop.Turn{Now: safety.Now{Wall: at, Trusted: trusted}}) {
			looks = append(looks, at.Format("2 15:04"))
		}
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

func TestWhatRecordsProposeAndAskIsToldAndChangesNothing(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage, `{from_day: 40, flood_at: ["09:00", "15:00"], hold: 4 min, strength: 50 %, can_wait: 30 h}`)
	start := time.Date(2026, 3, 10, 9, 0, 0, 0, site.Zone)
	stored := &storage{}
	s := New(Options{Site: site, Names: rehearse.Names(site), Ledger: stored})
	s.Follow(&loop.Loop{})
	advice := func(days int) []controller.Message {
		all, _ := s.advice(t.Context(), start.AddDate(0, 0, days))
		return all
	}
	assert.Empty(t, advice(0))

	write := func(after time.Duration, kind ledger.DiaryKind, value float64) {
		stored.diary = append(stored.diary, ledger.Diary{At: ledger.When{Time: start.Add(after)}, Place: "basil_spring", Kind: kind, Value: &value})
	}
	for i := range 3 {
		write(time.Duration(i)*time.Hour, ledger.Moisture, 1)
	}
	write(0, ledger.MovedOut, 96)
	told := advice(1)
	require.Len(t, told, 2)
	assert.Equal(t, controller.ThisWeek, told[0].Urgency)
	assert.Contains(t, told[0].Text, "basil spring might enter its stage from day 40, daily at 09:00 and 15:00: its pots score 1.0 of 5")
	assert.Contains(t, told[0].Text, "It does so when you advance it.")
	assert.Contains(t, told[1].Text, "no pot of basil_spring is left")
	again := advice(2)
	require.Len(t, again, 2)
	for i := range told {
		assert.Equal(t, told[i].Cause, again[i].Cause, "by which it is known to have been told")
	}
	assert.Nil(t, site.Batches[0].Passages)
}
