package schedule

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestConflictsSayWhatABenchWithholds(t *testing.T) {
	first := date(t, "2026-03-02")
	dublin := zone(t, "Europe/Dublin")
	young := Stage{At: at(t, "09:00"), Hold: 4 * time.Minute, Strength: 0.25, CanWait: 48 * time.Hour}
	old := Stage{At: at(t, "09:00", "16:00"), Hold: 8 * time.Minute, Strength: 1, CanWait: 20 * time.Hour}
	like := func(s Stage, change func(*Stage)) Stage { change(&s); return s }

	for _, row := range []struct {
		name    string
		zone    *time.Location
		stages  [][]Stage // a plan and a batch of each, on one bench
		batches func([]Batch)
		from    string // 2026-03-02 when empty
		days    int
		want    []string
	}{
		{name: "a batch alone that gets its floods in time", stages: [][]Stage{{young}}, days: 30},
		{name: "twins", stages: [][]Stage{{young}, {young}}, days: 30},
		{name: "a wait of exactly what the batch stands",
			stages: [][]Stage{{like(young, func(s *Stage) { s.CanWait = 24 * time.Hour })}}, days: 20},
		{name: "one second more than it stands", days: 3,
			stages: [][]Stage{{like(young, func(s *Stage) { s.CanWait = 24*time.Hour - time.Second })}},
			want:   []string{"gap [0] 2026-03-03 2026-03-04: 0 waits up to 24 h for a flood and stands 23 h 59 min"}},
		{name: "the weakest feeder and the most sensitive roots", stages: [][]Stage{{old}, {young}}, days: 3,
			want: []string{
				"strength [0 1] 2026-03-02 2026-03-04: all get strength 25 %; their stages ask 0 for 100 % and 1 for 25 %",
				"hold [0 1] 2026-03-02 2026-03-04: all get hold 4 min; their stages ask 0 for 8 min and 1 for 4 min",
			}},
		{name: "a disagreement ends when the stage changes", days: 9,
			stages: [][]Stage{{like(young, func(s *Stage) { s.Hold = 8 * time.Minute }), like(old, func(s *Stage) { s.FromDay = 5; s.CanWait = 48 * time.Hour })}, {old}},
			want:   []string{"strength [0 1] 2026-03-02 2026-03-06: all get strength 25 %; their stages ask 0 for 25 % and 1 for 100 %"}},
		{name: "only while both stand there", stages: [][]Stage{{old}, {like(young, func(s *Stage) { s.Hold = old.Hold })}}, days: 9,
			batches: func(b []Batch) { b[1].Transplanted, b[1].Closed = first.AddDays(2), first.AddDays(3) },
			want:    []string{"strength [0 1] 2026-03-04 2026-03-05: all get strength 25 %; their stages ask 0 for 100 % and 1 for 25 %"}},
		{name: "a gap in the week is found where it falls", days: 14,
			stages: [][]Stage{{{Cron: mustCron(t, "0 9 * * 1-5"), Hold: time.Minute, CanWait: 60 * time.Hour}}},
			want: []string{
				"gap [0] 2026-03-08 2026-03-09: 0 waits up to 72 h for a flood and stands 60 h",
				"gap [0] 2026-03-15 2026-03-15: 0 waits up to 63 h for a flood and stands 60 h", // so far
			}},
		{name: "the flood before the first date counts", from: "2026-03-09", days: 1,
			stages: [][]Stage{{{Cron: mustCron(t, "0 9 * * 1-5"), Hold: time.Minute, CanWait: 60 * time.Hour}}},
			want:   []string{"gap [0] 2026-03-09 2026-03-09: 0 waits up to 72 h for a flood and stands 60 h"}},
		{name: "a plan that never floods in these months", days: 5,
			stages: [][]Stage{{{Cron: mustCron(t, "0 9 * 6 *"), Hold: time.Minute, CanWait: 48 * time.Hour}}},
			want:   []string{"gap [0] 2026-03-05 2026-03-06: 0 waits up to 96 h for a flood and stands 48 h"}},
		{name: "a gap where one stage gives way to the next is named as that", days: 9,
			stages: [][]Stage{{{At: at(t, "08:00"), Hold: time.Minute, CanWait: 30 * time.Hour},
				{FromDay: 4, At: at(t, "10:00", "18:00"), Hold: time.Minute, CanWait: 24 * time.Hour}}},
			want: []string{"gap [0] 2026-03-06 2026-03-06: 0 waits 26 h from the last flood of the stage before to the first of the next, and stands 24 h"}},
		{name: "a gap that goes on after the change is not", days: 7,
			stages: [][]Stage{{{At: at(t, "08:00"), Hold: time.Minute, CanWait: 30 * time.Hour},
				{FromDay: 4, At: at(t, "10:00"), Hold: time.Minute, CanWait: 23 * time.Hour}}},
			want: []string{"gap [0] 2026-03-06 2026-03-08: 0 waits up to 26 h for a flood and stands 23 h"}},
		{name: "the long day of autumn", zone: dublin, from: "2026-10-20", days: 10,
			stages: [][]Stage{{like(young, func(s *Stage) { s.CanWait = 24*time.Hour + 30*time.Minute })}},
			want:   []string{"gap [0] 2026-10-25 2026-10-25: 0 waits up to 25 h for a flood and stands 24 h 30 min"}},
		{name: "the times of the thirstiest may not suit the most urgent", days: 3,
			stages: [][]Stage{{{At: at(t, "09:00", "10:00", "11:00"), Hold: time.Minute, CanWait: 48 * time.Hour}},
				{{At: at(t, "08:00", "20:00"), Hold: time.Minute, CanWait: 14 * time.Hour}}},
			want: []string{"gap [1] 2026-03-03 2026-03-04: 1 waits up to 22 h for a flood and stands 14 h"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := Setup{Zone: row.zone, Benches: 1}
			if row.zone == nil {
				s.Zone = time.UTC
			}
			for i, stages := range row.stages {
				s.Plans = append(s.Plans, Plan{Name: fmt.Sprint(i), Stages: stages})
				s.Batches = append(s.Batches, Batch{Name: fmt.Sprint(i), Plan: i, Transplanted: first})
			}
			if row.batches != nil {
				row.batches(s.Batches)
			}
			from := first
			if row.from != "" {
				from = date(t, row.from)
			}
			var got []string
			for _, c := range mustCalendar(t, s).Conflicts(from, from.AddDays(row.days-1)) {
				assert.Zero(t, c.Bench)
				got = append(got, fmt.Sprintf("%v %v %v %v: %s", c.Kind, c.Batches, c.From, c.To, c.Detail))
			}
			assert.Equal(t, row.want, got)
		})
	}
}

func TestAConflictIsFollowedToItsRealEnd(t *testing.T) {
	first := date(t, "2026-03-02")
	weak := Stage{At: at(t, "09:00"), Hold: time.Minute, Strength: 0.25, CanWait: 48 * time.Hour}
	strong := weak
	strong.Strength = 1
	s := Setup{Zone: time.UTC, Benches: 1}
	for i, stage := range []Stage{weak, strong} {
		s.Plans = append(s.Plans, Plan{Name: fmt.Sprint(i), Stages: []Stage{stage}})
		s.Batches = append(s.Batches, Batch{Name: fmt.Sprint(i), Plan: i, Transplanted: first, Closed: first.AddDays(30 + i)})
	}
	c := mustCalendar(t, s)
	for _, days := range []int{0, 29, 30, 60} {
		got := c.ConflictsBegun(first, first.AddDays(days))
		assert.Len(t, got, 1)
		assert.Equal(t, first.AddDays(30), got[0].To, "whatever the days that are asked for")
	}
	assert.Empty(t, c.ConflictsBegun(first.AddDays(-9), first.AddDays(-1)), "one that begins later")
	assert.Empty(t, c.ConflictsBegun(first.AddDays(31), first.AddDays(60)))
}
