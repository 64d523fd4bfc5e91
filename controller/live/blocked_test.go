package live

import (
	"context"
	"io"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/controller/notify"
	"benchtide/controller/notify/outbox"
	"benchtide/controller/rehearse"
	"benchtide/safety"
	"benchtide/schedule"
)

// patience is how long a machine may be busy with something else.
const patience = 10 * time.Second

// part is something that the site asks. While it is held it answers nobody.
type part struct {
	entered chan struct{} // somebody is in it
	held    chan struct{} // closed when it answers
}

func newPart() *part { return &part{entered: make(chan struct{}, 1000), held: make(chan struct{})} }

func (p *part) answer() { close(p.held) }

func (p *part) wait() {
	p.entered <- struct{}{}
	<-p.held
}

// slowLedger and slowDesk are parts of which every question waits; whoever asks
// how the ledger fares, as a turn may, does not.
type slowLedger struct{ *part }

func (s slowLedger) Stats() ledger.Stats { return ledger.Stats{} }
func (s slowLedger) Floods(context.Context, ledger.Query) ([]controller.Row, error) {
	s.wait()
	return nil, nil
}
func (s slowLedger) Trips(context.Context, ledger.Query) ([]ledger.Trip, error) {
	s.wait()
	return nil, nil
}
func (s slowLedger) Days(context.Context, ledger.Query) ([]ledger.Day, error) {
	s.wait()
	return nil, nil
}
func (s slowLedger) Diary(context.Context, ledger.Query) ([]ledger.Diary, error) {
	s.wait()
	return nil, nil
}
func (s slowLedger) Weighings(context.Context, ledger.Query) ([]ledger.Weighing, error) {
	s.wait()
	return nil, nil
}
func (s slowLedger) Add(context.Context, ledger.Entry) error { s.wait(); return nil }
func (s slowLedger) Export(context.Context, io.Writer, string, ledger.Format, ledger.Query) error {
	s.wait()
	return nil
}
func (s slowLedger) Backup(context.Context, string) error { s.wait(); return context.Canceled }

type slowDispatcher struct{ *part }

func (s slowDispatcher) Status() notify.Status                     { s.wait(); return notify.Status{} }
func (s slowDispatcher) Lost() []outbox.Lost                       { s.wait(); return nil }
func (s slowDispatcher) Acknowledge(int64, string) error           { s.wait(); return nil }
func (s slowDispatcher) Shelve(int64, time.Duration, string) error { s.wait(); return nil }
func (s slowDispatcher) Service(int64, bool, string) error         { s.wait(); return nil }
func (s slowDispatcher) Test() (int, error)                        { s.wait(); return 0, nil }
func (s slowDispatcher) Confirm(string) (string, error)            { s.wait(); return "", nil }

type slowHeart struct{ *part }

func (s slowHeart) Status() notify.HeartbeatStatus { s.wait(); return notify.HeartbeatStatus{} }

// calmClock and calmBoard are of a site on which nothing happens.
type calmClock struct{ begun time.Time }

func (c calmClock) Now() safety.Now {
	return safety.Now{Mono: time.Hour + time.Since(c.begun), Wall: time.Now().UTC(), Trusted: true}
}

func (c calmClock) Wait(ctx context.Context, until time.Duration, wake <-chan struct{}) error {
	timer := time.NewTimer(min(until-c.Now().Mono, 20*time.Millisecond))
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-wake:
	case <-ctx.Done():
	}
	return ctx.Err()
}

type calmBoard struct{}

func (calmBoard) Read(now safety.Now, r *safety.Readings) {
	for i := range r.Benches {
		b := &r.Benches[i]
		dry := safety.Reading{Level: safety.Dry, At: now.Mono}
		b.Full, b.High = dry, dry
	}
	for i := range r.Reservoirs {
		r.Reservoirs[i].Low = safety.Reading{Level: safety.Wet, At: now.Mono}
	}
}
func (calmBoard) Apply(safety.Command) error               { return nil }
func (calmBoard) NextRead(now time.Duration) time.Duration { return now + 10*time.Millisecond }
func (calmBoard) Close() error                             { return nil }

// news is a sink before the site that has every turn bring it something to tell.
type news struct{}

func (news) Turn(t *loop.Turn) {
	t.Events = append(t.Events, controller.Event{Kind: controller.StageBegan, At: t.Now}, controller.Event{Kind: controller.BatchClosed, At: t.Now})
}

// running is a site whose loop runs.
func running(t *testing.T, o Options) *Site {
	o.Site = planted(t, "2026-03-02", firstStage)
	o.Names = rehearse.Names(o.Site)
	o.Rebaseline = func(int) {}
	o.Checked = func(safety.Now) CommissioningStatus { return CommissioningStatus{} }
	o.Dir = t.TempDir()
	s := New(o)
	clock := calmClock{time.Now()}
	setup, err := rehearse.Setup(o.Site)
	require.NoError(t, err)
	c, err := controller.New(setup, clock.Now())
	require.NoError(t, err)
	l := loop.New(loop.Parts{
		Clock: clock, Board: calmBoard{}, Guard: safety.New(setup.Limits, safety.State{}, clock.Now(), "boot"), Controller: c, Limits: setup.Limits,
		Names: o.Names, Publish: true, Ledger: &loop.Memory{}, Sinks: []loop.Sink{news{}, s}, Boot: "boot",
	})
	s.Follow(l)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error)
	go func() { done <- l.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		assert.NoError(t, <-done)
	})
	_, err = l.After(t.Context(), 0)
	require.NoError(t, err)
	return s
}

// turns reports whether the loop goes on turning.
func turns(t *testing.T, s *Site) bool {
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	_, err := s.loop.After(ctx, s.loop.Snapshot().Number+2)
	return err == nil
}

// arguments are what any method of the site can be called with.
func arguments(ctx context.Context, m reflect.Type) (in []reflect.Value) {
	from := schedule.DateOf(2026, 3, 10)
	for i := range m.NumIn() {
		given := reflect.Zero(m.In(i))
		for _, v := range []any{ctx, from, 3, "north", Note{Kind: "top-up", Place: "tank", Value: new(float64(100)), At: time.Now(), Now: time.Now()}, time.Now(), int64(1), time.Minute, []int{0}, io.Discard} {
			switch of := reflect.TypeOf(v); {
			case of == m.In(i), m.In(i).Kind() == reflect.Interface && of.Implements(m.In(i)):
				given = reflect.ValueOf(v)
			}
		}
		if m.In(i).Kind() == reflect.Int {
			given = reflect.ValueOf(0)
		}
		in = append(in, given)
	}
	return in
}

// outside are the methods that are not for whoever looks, and why.
var outside = map[string]string{
	"Turn":      "it is the loop's",
	"Follow":    "it comes before the first turn",
	"PublishTo": "it comes before the first turn",
	"Record":    "its methods are tried",
	"Messages":  "its methods are tried",
}

// Whatever anybody asks of the site, and whichever part does not answer, the
// turns go on, and those with news for the site too.
func TestNoTurnWaitsForWhoeverAsksAPartThatDoesNotAnswer(t *testing.T) {
	stuck := 0
	for name, options := range map[string]func(p *part) Options{
		"ledger":     func(p *part) Options { return Options{Ledger: slowLedger{p}, Dispatcher: slowDispatcher{answering()}} },
		"dispatcher": func(p *part) Options { return Options{Ledger: &storage{}, Dispatcher: slowDispatcher{p}} },
		"heartbeat": func(p *part) Options {
			return Options{Ledger: &storage{}, Dispatcher: slowDispatcher{answering()}, Heart: slowHeart{p}}
		},
	} {
		for _, of := range []func(*Site) any{
			func(s *Site) any { return s }, func(s *Site) any { return s.Record() }, func(s *Site) any { return s.Messages() },
		} {
			methods := reflect.TypeOf(of(New(Options{Site: planted(t, "2026-03-02", firstStage), Names: controller.Names{Zone: time.UTC}})))
			for i := range methods.NumMethod() {
				what := methods.Method(i).Name
				if methods == reflect.TypeFor[*Site]() && outside[what] != "" {
					continue
				}
				t.Run(name+"/"+methods.String()+"."+what, func(t *testing.T) {
					p := newPart()
					s := running(t, options(p))
					if whileAsked(t, s, p, reflect.ValueOf(of(s)).Method(i)) {
						stuck++
					}
				})
			}
		}
	}
	assert.Greater(t, stuck, 15, "questions that a part keeps waiting")
}

// whileAsked has the site turn while somebody asks, and reports whether a part
// keeps him waiting.
func whileAsked(t *testing.T, s *Site, p *part, method reflect.Value) (stuck bool) {
	returned := make(chan struct{})
	go func() {
		defer close(returned)
		method.Call(arguments(context.Background(), method.Type()))
	}()
	select {
	case <-p.entered:
		stuck = true
	case <-returned:
	case <-time.After(patience):
		t.Error("it neither asks nor returns")
	}
	went := turns(t, s)
	p.answer()
	<-returned
	assert.True(t, went, "no turn came while somebody asked")
	return stuck
}

func answering() *part {
	p := newPart()
	p.answer()
	return p
}

// An act's asker sees what came of it in the next snapshot.
func TestWhoActedSeesItInTheNextStatus(t *testing.T) {
	s := running(t, Options{Ledger: &storage{}, Dispatcher: slowDispatcher{answering()}})
	for range 20 {
		require.NoError(t, s.Pause(t.Context(), []int{0}, time.Now().Add(time.Hour), "Kim"))
		st, err := s.Status(t.Context())
		require.NoError(t, err)
		require.NotNil(t, st.Benches[0].PausedUntil)
		require.NoError(t, s.Resume(t.Context(), []int{0}))
		st, err = s.Status(t.Context())
		require.NoError(t, err)
		require.Nil(t, st.Benches[0].PausedUntil)
	}
	require.NoError(t, s.CloseBatch(t.Context(), 0, schedule.DateOf(2026, 3, 20)))
	st, err := s.Status(t.Context())
	require.NoError(t, err)
	require.NotNil(t, st.Batches[0].Closed)
	assert.Equal(t, "2026-03-20", *st.Batches[0].Closed)
}
