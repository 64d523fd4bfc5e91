package grow

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

// known is a record of batch b, whose entries are days after monday, ten days
// after it.
func known(entries ...Entry) *Record {
	return &Record{Now: monday.Add(10 * day), Diary: map[string][]Entry{"b": entries}}
}

func TestABatchBeginsWithThePotsOfTheFileUnlessTheDiaryCountsThem(t *testing.T) {
	s := under(t, schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}, schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")})
	k := s.Stand(0, known(), time.UTC)
	assert.Equal(t, 96, k.Left())
	assert.False(t, k.Counted)
	k = s.Stand(0, known(on(3, Lost, 4), on(5, MovedOut, 12), on(8, Resown, 6), on(9.5, Moisture, 2), on(2, Moisture, 5)), time.UTC)
	assert.Equal(t, 80, k.Left())
	assert.Equal(t, []Cohort{{date(t, "2026-03-02").At(0).In(time.UTC), 74}, {monday.Add(8 * day), 6}}, k.Cohorts)
	assert.Equal(t, []float64{2}, k.Scores, "of the last days alone")
	assert.Equal(t, 50, s.Stand(0, known(on(-20, Sown, 60), on(0, Transplanted, 50)), time.UTC).Left())
}

func TestABatchWithoutFloodsAndFloodsWithoutABatchAreAskedAbout(t *testing.T) {
	often := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}
	late := schedule.Plan{Stages: []schedule.Stage{stage(t, 30, "09:00")}}
	stands := schedule.Batch{Name: "b", Transplanted: date(t, "2026-03-02")}
	gone := stands
	gone.Closed = date(t, "2026-03-05")
	flooded := known()
	flooded.Floods = []Flood{{Due: monday.Add(2 * day), Proven: true}, {Due: monday.Add(9 * day), Proven: true}, {Due: monday.Add(228 * time.Hour), Proven: false}}
	for name, c := range map[string]struct {
		plan   schedule.Plan
		batch  schedule.Batch
		record *Record
		want   string // empty: no question
	}{
		"all is well":                      {often, stands, known(on(1, Lost, 3)), ""},
		"floods for what stands there":     {often, stands, flooded, ""},
		"a stage that has not begun":       {late, stands, known(), "no flood is planned for it today or tomorrow. Has it gone?"},
		"all moved out":                    {often, stands, known(on(8, MovedOut, 96)), "no pot of b is left, and its bench goes on flooding"},
		"fewer than in the file":           {often, stands, known(on(0, Transplanted, 48)), "48 pots of b stand, and the file says 96"},
		"some resown":                      {often, stands, known(on(8, Resown, 20)), "20 pots of b began again on 2026-03-10 and are a younger batch"},
		"closed, and nothing floods":       {often, gone, known(), ""},
		"closed, and floods go on by hand": {often, gone, flooded, "one flood in the last three days, and no batch stands on it"},
	} {
		t.Run(name, func(t *testing.T) {
			all := under(t, c.plan, c.batch).Questions(date(t, "2026-03-12"), c.record, time.UTC)
			if c.want == "" {
				assert.Empty(t, all)
				return
			}
			require.Len(t, all, 1)
			assert.Contains(t, all[0].Text, c.want)
		})
	}
}

func TestAStageIsProposedByDateByDrynessAndByWhatHotDaysNeed(t *testing.T) {
	plan := schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "12:00"), stage(t, 10, "09:00", "15:00"), stage(t, 40, "07:15", "12:00", "16:45")}}
	scores := func(v float64) *Record { return known(on(8, Moisture, v), on(9, Moisture, v), on(9.5, Moisture, v)) }
	for name, c := range map[string]struct {
		age     int
		asked   bool
		record  *Record
		stage   int // -1: no proposal
		reasons string
		against string
	}{
		"nothing to say":             {2, true, known(), -1, "", ""},
		"by age as the file says":    {12, false, known(), -1, "", ""},
		"the date":                   {12, true, known(), 1, "12 days old, and the stage begins at day 10", ""},
		"the date, and wet pots":     {12, true, scores(4.5), 1, "12 days old", "score 4.5 of 5, which is wet"},
		"dry pots":                   {2, true, scores(1.5), 1, "score 1.5 of 5, drier than the 2", ""},
		"dry pots, though by age":    {2, false, scores(1.5), 1, "score 1.5", ""},
		"two scores tell little":     {2, true, known(on(9, Moisture, 1), on(9.5, Moisture, 1)), -1, "", ""},
		"hot days to come":           {35, false, known(), 2, "on hottest days three floods a day are needed within a week, and 2 are planned", ""},
		"nothing after the last one": {90, false, scores(1), -1, "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := date(t, "2026-06-12")
			s := under(t, plan, schedule.Batch{Name: "b", Transplanted: d.AddDays(-c.age), Asked: c.asked})
			all, err := s.Propose(d, c.record, time.UTC)
			require.NoError(t, err)
			if c.stage < 0 {
				assert.Empty(t, all)
				return
			}
			require.Len(t, all, 1)
			assert.Equal(t, c.stage, all[0].Stage)
			assert.Contains(t, strings.Join(all[0].Reasons, "; "), c.reasons)
			assert.Equal(t, c.against != "", len(all[0].Against) > 0)
			assert.Contains(t, strings.Join(all[0].Against, "; "), c.against)
		})
	}
}
