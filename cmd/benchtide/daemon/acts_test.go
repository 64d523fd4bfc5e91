package daemon

import (
	"context"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/loop"
	"benchtide/controller/web"
	"benchtide/schedule"
)

// fate is what becomes of an act whose asker has gone before the loop has begun
// it.
type fate struct {
	method string // of the site; empty for another use of the one above
	fate   loop.Fate
	ask    func(ctx context.Context, s *live.Site, at time.Time) error
}

var soon = schedule.DateOf(2100, 1, 1)

// fates has every act of the API: what starts water, releases it or resets lapses,
// what keeps water off stands.
var fates = []fate{
	{"Flood", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error { return s.Flood(c, 0, 0, controller.Asker{}) }},
	{"Resume", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error { return s.Resume(c, []int{0}) }},
	{"HandsIn", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error {
		return s.HandsIn(c, false, controller.Asker{})
	}},
	{"Reset", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error { return s.Reset(c, 0, "a leaf") }},
	{"Drop", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error { return s.Drop(c, "gone", "taken down") }},
	{"Rinsed", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error { return s.Rinsed(c, 0, "") }},
	{"UndoSkip", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error {
		_, err := s.UndoSkip(c, 0, 0)
		return err
	}},
	{"Advance", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error {
		_, err := s.Advance(c, 0, nil)
		return err
	}},
	{"CloseBatch", loop.Lapses, func(c context.Context, s *live.Site, _ time.Time) error { return s.CloseBatch(c, 0, 0) }},

	{"Stop", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error { return s.Stop(c, 0, controller.Asker{}) }},
	{"Pause", loop.Stands, func(c context.Context, s *live.Site, at time.Time) error {
		return s.Pause(c, []int{0}, at.Add(time.Hour), "Kim")
	}},
	{"", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error {
		return s.HandsIn(c, true, controller.Asker{})
	}},
	{"Sanitise", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error { return s.Sanitise(c, 0, "Kim") }},
	{"SkipNext", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error {
		_, err := s.SkipNext(c, 0, 0)
		return err
	}},
	{"TookOut", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error {
		_, err := s.TookOut(c, 0, 0, "Kim")
		return err
	}},
	{"ToppedUp", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error {
		_, err := s.ToppedUp(c, 0, true, 0, "Kim")
		return err
	}},
	{"", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error { return s.CloseBatch(c, 0, soon) }},
	{"Empty", loop.Stands, func(c context.Context, s *live.Site, _ time.Time) error {
		_, err := s.Empty(c, 0)
		return err
	}},
}

// questions are the methods of a site that change nothing.
var questions = map[string]bool{"Status": true, "Calendar": true, "Outlook": true}

func TestEveryActHasItsFate(t *testing.T) {
	known := map[string]bool{}
	for _, f := range fates {
		known[f.method] = true
	}
	for m := range reflect.TypeFor[web.Site]().Methods() {
		assert.NotEqual(t, questions[m.Name], known[m.Name], "%s: say in fates what becomes of it when its asker goes", m.Name)
	}
}

// Whoever goes before the loop has begun an act is told what becomes of it, and
// that is what becomes of it.
func TestWhatAnAskerWasToldIsWhatHappens(t *testing.T) {
	d := put(t, many(t, 1), idleMachine(t, many(t, 1)))
	d.loop.Turn()
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	at := d.loop.Snapshot().Status.Now.Wall
	for _, f := range fates {
		err := f.ask(gone, d.live, at)
		if f.fate == loop.Stands {
			assert.ErrorIs(t, err, live.ErrNotKnown, f.method)
			continue
		}
		assert.ErrorIs(t, err, live.ErrUnavailable, f.method)
		assert.NotErrorIs(t, err, live.ErrNotKnown, f.method)
	}
	require.NoError(t, d.loop.Run(gone))
	st := d.loop.Snapshot().Status
	assert.Equal(t, "Kim", st.Benches[0].PausedBy)
	assert.False(t, st.Benches[0].Sanitising.IsZero())
	assert.Zero(t, st.Benches[0].Queued, "no flood waits")
	assert.NotZero(t, st.Batches[0].Closed)
	assert.Less(t, st.Batches[0].Closed, soon, "it was emptied after its last day was said")
	assert.Empty(t, st.Batches[0].Passages, "it was not advanced")
	assert.True(t, d.loop.Guard.State().HandsIn)
	assert.ErrorIs(t, d.live.Stop(t.Context(), 0, controller.Asker{}), live.ErrUnavailable, "after the end")
}

// A later last day brings floods back, and an earlier one takes them off.
func TestALaterLastDayIsAStart(t *testing.T) {
	d := put(t, many(t, 1), idleMachine(t, many(t, 1)))
	d.loop.Turn()
	require.NoError(t, d.loop.Act(func(c loop.Core) error { return c.Controller.Close(c.Now, 0, soon) }))
	d.loop.Turn()
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	assert.ErrorIs(t, d.live.CloseBatch(gone, 0, soon+1), live.ErrUnavailable)
	assert.ErrorIs(t, d.live.CloseBatch(gone, 0, soon-1), live.ErrNotKnown)
}
