package schedule

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// threeStages begin on days 0, 10 and 24 with one, two and three floods.
var threeStages = Plan{Name: "basil", Stages: []Stage{
	{FromDay: 0, At: []TimeOfDay{9 * 3600}, Hold: time.Minute, CanWait: 48 * time.Hour},
	{FromDay: 10, At: []TimeOfDay{8 * 3600, 15 * 3600}, Hold: time.Minute, CanWait: 30 * time.Hour},
	{FromDay: 24, At: []TimeOfDay{8 * 3600, 12 * 3600, 16 * 3600}, Hold: time.Minute, CanWait: 20 * time.Hour},
}}

func TestABatchEntersItsStagesByAgeOrByAPersonsWord(t *testing.T) {
	first := DateOf(2026, 3, 2)
	none := -1
	for name, c := range map[string]struct {
		asked bool
		told  []Passage
		want  map[int]int // stage by age in days
	}{
		"by age":                  {false, nil, map[int]int{-1: none, 0: 0, 9: 0, 10: 1, 23: 1, 24: 2}},
		"asked and nothing said":  {true, nil, map[int]int{-1: none, 0: 0, 10: 0, 90: 0}},
		"asked and told":          {true, []Passage{{On: first + 12, Stage: 1}, {On: first + 30, Stage: 2}}, map[int]int{11: 0, 12: 1, 24: 1, 29: 1, 30: 2}},
		"told ahead":              {false, []Passage{{On: first + 7, Stage: 1}}, map[int]int{6: 0, 7: 1, 10: 1, 24: 2}},
		"told ahead by two":       {false, []Passage{{On: first + 7, Stage: 2}}, map[int]int{7: 2, 10: 2, 24: 2}},
		"held back for a while":   {false, []Passage{{On: first + 10, Stage: 0}}, map[int]int{9: 0, 10: 0, 23: 0, 24: 2}},
		"told, then told again":   {false, []Passage{{On: first + 5, Stage: 2}, {On: first + 6, Stage: 0}}, map[int]int{5: 2, 6: 0, 9: 0, 10: 1}},
		"a stage that is no more": {true, []Passage{{On: first, Stage: 7}}, map[int]int{0: 2}},
	} {
		t.Run(name, func(t *testing.T) {
			b := Batch{Transplanted: first, Asked: c.asked, Passages: c.told}
			for age, want := range c.want {
				got, ok := b.StageOn(threeStages, first.AddDays(age))
				if !ok {
					got = none
				}
				assert.Equal(t, want, got, "day %d", age)
			}
		})
	}
}

func TestACalendarFollowsWhatAPersonSaysOfABatch(t *testing.T) {
	first := DateOf(2026, 3, 2)
	c, err := NewCalendar(Setup{
		Zone: time.UTC, Plans: []Plan{threeStages}, Benches: 1,
		Batches: []Batch{{Name: "basil", Transplanted: first}},
	})
	require.NoError(t, err)
	perDay := func(d Date) int { return len(c.Between(d.At(0), d.AddDays(1).At(0))) }
	next, ok := c.After(0, first.At(10*3600))
	require.True(t, ok)
	require.Equal(t, first.AddDays(1).At(9*3600), next.Slot.Local)
	require.Equal(t, 1, perDay(first+5))

	c.Change(0, 0, []Passage{{On: first + 1, Stage: 2}})
	next, _ = c.After(0, first.At(10*3600))
	assert.Equal(t, first.AddDays(1).At(8*3600), next.Slot.Local, "nothing of before is remembered")
	assert.Equal(t, 1, perDay(first))
	assert.Equal(t, 3, perDay(first+5))

	c.Change(0, first+1, nil)
	assert.Equal(t, 1, perDay(first+1))
	assert.Zero(t, perDay(first+2))
	_, ok = c.After(0, first.AddDays(1).At(10*3600))
	assert.False(t, ok)
}
