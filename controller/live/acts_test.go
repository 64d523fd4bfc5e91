package live

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
)

// Of an act whose asker has gone before the loop began it, what stops or keeps
// off is done all the same, and what lets water start never is.
func TestWhatStopsStandsAndWhatStartsLapsesWhenItsAskerHasGone(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage)
	for name, c := range map[string]struct {
		act    func(*Site, context.Context) error
		stands bool
	}{
		"stop":           {func(s *Site, ctx context.Context) error { return s.Stop(ctx, 0, controller.Asker{}) }, true},
		"hands-in":       {func(s *Site, ctx context.Context) error { return s.HandsIn(ctx, true, controller.Asker{}) }, true},
		"hands-in ended": {func(s *Site, ctx context.Context) error { return s.HandsIn(ctx, false, controller.Asker{}) }, false},
		"pause": {func(s *Site, ctx context.Context) error {
			return s.Pause(ctx, []int{0}, time.Now().Add(time.Hour), "")
		}, true},
		"resume":   {func(s *Site, ctx context.Context) error { return s.Resume(ctx, []int{0}) }, false},
		"sanitise": {func(s *Site, ctx context.Context) error { return s.Sanitise(ctx, 0, "") }, true},
		"rinsed":   {func(s *Site, ctx context.Context) error { return s.Rinsed(ctx, 0, "") }, false},
		"reset":    {func(s *Site, ctx context.Context) error { return s.Reset(ctx, 0, "a leaf") }, false},
	} {
		s := New(Options{Site: site})
		s.Follow(loop.New(loop.Parts{Board: calmBoard{}}))
		gone, leave := context.WithCancel(t.Context())
		leave()
		want := ErrUnavailable
		if c.stands {
			want = ErrNotKnown
		}
		assert.ErrorIs(t, c.act(s, gone), want, name)
	}
}

func TestRinsingBeginsTheWatchOnSlowChangesAnewOnEveryBenchOfTheReservoir(t *testing.T) {
	s := running(t, Options{Ledger: &storage{}, Dispatcher: slowDispatcher{answering()}})
	site, begun := *s.o.Site, []int(nil)
	site.Benches = append(slices.Clone(site.Benches), site.Benches[0], site.Benches[0])
	site.Benches[1].Reservoir = 1
	s.o.Site, s.o.Rebaseline = &site, func(b int) { begun = append(begun, b) }
	require.NoError(t, s.Sanitise(t.Context(), 0, ""))
	require.NoError(t, s.Rinsed(t.Context(), 0, ""))
	assert.Equal(t, []int{0, 2}, begun)
}

// What a site calls now is what its own clock shows: that of a demo is another
// than the machine's.
func TestANoteOfNowIsOfTheSitesClock(t *testing.T) {
	s := running(t, Options{Ledger: &storage{}, Dispatcher: slowDispatcher{answering()}})
	basis := func() controller.Basis { return s.loop.Snapshot().Status.Reservoirs[0].Basis }
	now := time.Date(2020, 3, 2, 9, 0, 0, 0, time.UTC)
	s.topped(Note{Kind: "solution-change", Place: "tank", At: now.Add(-stillNow - time.Second), Now: now})
	require.Equal(t, controller.Unknown, basis(), "one about the past says nothing of now")
	s.topped(Note{Kind: "solution-change", Place: "tank", At: now.Add(-time.Minute), Now: now})
	assert.Equal(t, controller.Noted, basis())
}

func TestAReservoirIsToppedUpByItsOwnFloodsAlone(t *testing.T) {
	in := func(d time.Duration) *Planned {
		return &Planned{Due: controller.Stamp(time.Date(2026, 3, 12, 12, 0, 0, 0, time.UTC).Add(d), time.UTC)}
	}
	until := "2026-03-13T12:00:00+00:00"
	s := Site{o: Options{Site: &config.Site{Benches: []config.Bench{{Reservoir: 0}, {Reservoir: 1}, {Reservoir: 2}, {Reservoir: 3}}}}}
	st := Status{
		At: "2026-03-12T12:00:00+00:00",
		Benches: []BenchStatus{
			{Name: "soon", Next: in(5 * time.Minute)}, {Name: "later", Next: in(3 * time.Hour)}, {Name: "wet", Water: "standing"},
			{Name: "paused", Next: in(5 * time.Minute), PausedUntil: &until},
		},
		Reservoirs: make([]ReservoirStatus, 4),
	}
	s.topUps(&st)
	var may []bool
	for _, r := range st.Reservoirs {
		may = append(may, r.TopUp.OK)
	}
	assert.Equal(t, []bool{false, true, false, true}, may)
}

// What the rules of the controller refuse is shown with what goes on from there:
// the word that is wanted, or the hour at which it passes.
func TestWhoIsRefusedForWhereHeAsksFromIsToldWhatHelps(t *testing.T) {
	s := running(t, Options{Ledger: &storage{}, Dispatcher: slowDispatcher{answering()}})
	far := controller.Asker{Far: true}
	refused := func(err error) Refused {
		var no Refused
		require.ErrorAs(t, err, &no)
		return no
	}
	assert.Equal(t, "proof", refused(s.Flood(t.Context(), 0, 0, far)).Needs)
	assert.Equal(t, "proof", refused(s.HandsIn(t.Context(), false, far)).Needs)
	require.NoError(t, s.HandsIn(t.Context(), true, controller.Asker{}))
	assert.Equal(t, "hands-in", refused(s.Flood(t.Context(), 0, 0, controller.Asker{})).Interlock)
	require.NoError(t, s.HandsIn(t.Context(), false, controller.Asker{}))
	assert.False(t, refused(s.Flood(t.Context(), 0, 0, controller.Asker{Far: true, Sure: true})).Until.IsZero())
}

// late is storage that takes entries long after whoever wrote them has been answered.
type late struct {
	storage
	litres func() float64
	seen   []float64 // what the reservoir was counted to hold as each entry was handed over
}

func (l *late) Add(context.Context, ledger.Entry) error {
	l.seen = append(l.seen, l.litres())
	return context.DeadlineExceeded
}

// Water that a person wrote down counts before its entry goes to storage, so that both
// get there together, and counts all the same where storage takes it late: else its
// next weighing would book it once more, as water that came.
func TestWaterThatStorageTakesLateCountsAtOnce(t *testing.T) {
	l := &late{}
	begun := 0
	s := running(t, Options{Ledger: l, Dispatcher: slowDispatcher{answering()}})
	s.o.Rebaseline = func(int) { begun++ }
	l.litres = func() float64 { return float64(s.loop.Snapshot().Status.Reservoirs[0].Litres) }
	now := s.loop.Snapshot().Status.Now.Wall
	for _, n := range []Note{
		{Kind: "solution-change", Value: new(160.0)}, {Kind: "top-up", Value: new(20.0)}, {Kind: "taken-out", Value: new(10.0)},
	} {
		n.Place, n.At, n.Now, n.Sure = "tank", now, now, true
		assert.ErrorIs(t, s.record.AddDiary(t.Context(), n), context.DeadlineExceeded, "its writer hears that it is not on storage yet")
	}
	assert.Equal(t, []float64{160, 180, 170}, l.seen)
	require.Error(t, s.record.AddDiary(t.Context(), Note{Kind: "cleaning", Place: "tank", At: now, Now: now}))
	assert.Equal(t, 1, begun, "the watch on slow changes begins anew as well")
	require.Error(t, s.record.AddDiary(t.Context(), Note{Kind: "top-up", Place: "tank", At: now, Now: now}), "without litres it is no entry")
	assert.InDelta(t, 170, l.litres(), 1e-9)
}
