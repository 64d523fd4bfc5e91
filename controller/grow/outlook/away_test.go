package outlook

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule"
)

func example(t *testing.T) *config.Site {
	t.Helper()
	site, problems := config.Parse("example.yaml", config.Example)
	require.NoError(t, problems.Err())
	return site
}

func TestWhatPeopleSaidOfBatchesIsPutIntoTheFile(t *testing.T) {
	batch := example(t).Batches[0]
	stages := example(t).Plans[batch.Plan].Stages
	require.Greater(t, len(stages), 1)
	today := batch.Transplanted.AddDays(1) // in the first stage by its age
	for name, c := range map[string]struct {
		said     Said
		closed   schedule.Date
		passages []schedule.Passage
	}{
		"nothing":             {Said{Batch: batch.Name}, 0, nil},
		"closed":              {Said{Batch: batch.Name, Closed: today + 3}, today + 3, nil},
		"where its age is":    {Said{Batch: batch.Name, Stands: true, FromDay: stages[0].FromDay}, 0, nil},
		"advanced":            {Said{Batch: batch.Name, Stands: true, FromDay: stages[1].FromDay}, 0, []schedule.Passage{{On: today, Stage: 1}}},
		"a stage that is not": {Said{Batch: batch.Name, Stands: true, FromDay: stages[1].FromDay + 1}, 0, nil},
		"of another batch":    {Said{Batch: "another", Closed: today}, 0, nil},
	} {
		site := example(t)
		AsOf(site, today, []Said{c.said})
		assert.Equal(t, c.closed, site.Batches[0].Closed, name)
		assert.Equal(t, c.passages, site.Batches[0].Passages, name)
	}
}

func TestATimerEndsBeforeWaterCouldBeAtTheRim(t *testing.T) {
	site := example(t)
	calendar, err := site.Calendar()
	require.NoError(t, err)
	day := site.Batches[0].Transplanted.AddDays(1)
	timer := TimerOf(site, calendar, 0, day)
	assert.False(t, timer.Shortened)
	assert.Equal(t, site.Sheet(0).Fill+site.Sheet(0).Over, timer.Most)
	assert.NotEmpty(t, timer.Times)

	for i := range site.Plans[0].Stages {
		site.Plans[0].Stages[i].Hold = timer.Most
	}
	calendar, err = site.Calendar()
	require.NoError(t, err)
	timer = TimerOf(site, calendar, 0, day)
	assert.True(t, timer.Shortened)
	assert.Less(t, timer.Run, timer.Most)
	assert.Zero(t, timer.Run%time.Minute)
}
