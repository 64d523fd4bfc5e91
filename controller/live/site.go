package live

import (
	"context"
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// Options are what a running site is made of.
type Options struct {
	Site       *config.Site
	Names      controller.Names
	Ledger     Ledger
	Dir        string // of the ledger
	Kept       bool   // the ledger outlasts the program
	Dispatcher Dispatcher
	Heart      Heart // nil without one
	Checked    func(safety.Now) CommissioningStatus

	Rebaseline func(bench int) // has the watch on slow changes begin anew; called between two turns
}

// Site is a running site. It shows the snapshot that its loop publishes, so that
// any number of clients cost the loop nothing; only when that snapshot has become
// old does one of them wake it. Acts go through the loop's queue.
type Site struct {
	o        Options
	loop     *loop.Loop
	names    Names
	record   Record
	messages Messages
	outlooks outlooks
	adviser  adviser
	publish  func(Event)
}

var _ loop.Sink = (*Site)(nil)

// New puts a site together. It follows no loop yet.
func New(o Options) *Site {
	s := &Site{o: o, publish: func(Event) {}, names: namesOf(o.Site, o.Names), outlooks: newOutlooks(), messages: Messages{dispatcher: o.Dispatcher, heart: o.Heart, zone: o.Names.Zone, called: o.Site.Titles}}
	s.record = Record{site: o.Site, ledger: o.Ledger, dir: o.Dir, zone: o.Names.Zone, counts: s.topped, wrote: s.noted, asks: s.asks, copies: make(chan struct{}, 1)}
	s.adviser = adviser{zone: o.Names.Zone}
	return s
}

// Follow has the site show the turns of a loop that publishes, and act on it. It
// is a sink of that loop, and Follow comes before its first turn.
func (s *Site) Follow(l *loop.Loop) { s.loop = l }

// PublishTo has each event of the site passed on to publish, which must not wait.
// It comes before the first turn.
func (s *Site) PublishTo(publish func(Event)) { s.publish = publish }

// Record is what is kept of the site.
func (s *Site) Record() *Record { return &s.record }

// Messages are the alarms of the site and the channels by which people hear of them.
func (s *Site) Messages() Messages { return s.messages }

// Turn passes the events on. It waits for nobody.
func (s *Site) Turn(t *loop.Turn) {
	if s.adviser.due(t) {
		go s.advise(context.Background(), t.Now.Wall)
	}
	for i := range t.Events {
		if k := t.Events[i].Kind; k == controller.StageBegan || k == controller.BatchClosed {
			s.outlooks.forget()
		}
		e := Describe(t.Names, &t.Events[i])
		at := controller.Stamp(t.Events[i].At.Wall, t.Names.Zone)
		s.publish(Event{At: at, Kind: e.Kind, Level: levels[e.Level], Bench: e.Bench, Text: e.Text})
	}
}

// Ages and patience of a snapshot.
const (
	freshFor = time.Second
	turnsIn  = 2 * time.Second
)

// fresh is the snapshot of a recent turn.
func (s *Site) fresh(ctx context.Context) (*loop.Snapshot, error) {
	p := s.loop.Snapshot()
	if p != nil && time.Since(p.At) < freshFor {
		return p, nil
	}
	s.loop.Wake()
	return s.after(ctx, p)
}

// after waits for the snapshot of a turn after that of p, which is nil before the
// first.
func (s *Site) after(ctx context.Context, p *loop.Snapshot) (*loop.Snapshot, error) {
	number := int64(0)
	if p != nil {
		number = p.Number
	}
	within, cancel := context.WithTimeout(ctx, turnsIn)
	defer cancel()
	next, err := s.loop.After(within, number)
	switch {
	case err == nil:
		return next, nil
	case ctx.Err() == nil:
		return nil, fmt.Errorf("%w: no turn of its loop for %s", ErrUnavailable, turnsIn)
	}
	return nil, fmt.Errorf("%w: %w", ErrUnavailable, err)
}

// Status is the snapshot after a turn that is a second old at most.
func (s *Site) Status(ctx context.Context) (Status, error) {
	p, err := s.fresh(ctx)
	if err != nil {
		return Status{}, err
	}
	st := StatusOf(&p.Status, &s.names)
	for i, name := range s.names.Outputs {
		st.Outputs = append(st.Outputs, OutputStatus{Name: name, On: p.Command.On(i)})
	}
	s.topUps(&st)
	stats := s.o.Ledger.Stats()
	st.Messages = s.messages.status()
	st.Commissioning = s.o.Checked(p.Status.Now)
	st.Record = RecordStatus{Kept: s.o.Kept, Waiting: stats.Waiting, Errors: stats.Errors, Dropped: stats.Dropped}
	if stats.Trouble != nil {
		text := stats.Trouble.Error()
		st.Record.Trouble = &text
	}
	st.Attend()
	return st, nil
}

// Calendar is what is planned for some days.
func (s *Site) Calendar(from schedule.Date, days int) (Calendar, error) {
	return CalendarOf(s.present(), from, days)
}
