package notify

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
)

// Store is what the dispatcher needs of storage. None of its methods may wait
// for a disk; the dispatcher holds no lock over them all the same.
type Store interface {
	// Outbox returns what was kept before the program started.
	Outbox() outbox.State
	// OnFound has f called with what was kept before, should it become readable
	// only after Outbox was asked.
	OnFound(f func(outbox.State))
	// Keep takes the newest state, in place of any before. It is to be on
	// storage soon, or else with whatever is written next.
	Keep(s outbox.State, soon bool)
	// Trouble says why the newest state is not on storage; nil while it is, or
	// is about to be.
	Trouble() error
}

// news is what storage does not know yet.
type news int

const (
	none    news = iota
	routine      // counts and times
	vital        // what waits, what is over, and what people said
)

// changed has storage told. The lock is held.
func (d *Dispatcher) changed(n news) {
	d.unkept = max(d.unkept, n)
	select {
	case d.keeping <- struct{}{}:
	default:
	}
}

// keep tells storage until ctx ends. It has a goroutine of its own, so that
// nothing that is told, asked or sent waits for it.
func (d *Dispatcher) keep(ctx context.Context) {
	for {
		select {
		case <-d.keeping:
			d.handOver()
		case <-ctx.Done():
			return
		}
	}
}

// handOver gives storage the newest state where it does not have that.
func (d *Dispatcher) handOver() {
	s, n := d.state()
	if n > none {
		d.o.Store.Keep(s, n == vital)
	}
}

// state is the newest state, and what of it storage does not know.
func (d *Dispatcher) state() (s outbox.State, n news) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if n = d.unkept; n == none {
		return s, n
	}
	d.unkept = none
	return d.whole(), n
}

// State is all that must outlast the dispatcher, for one that takes its place.
func (d *Dispatcher) State() outbox.State {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.whole()
}

// whole is the newest state. The lock is held.
func (d *Dispatcher) whole() outbox.State {
	if d.alarmsNew {
		d.alarmsNew = false
		d.saved, _ = json.Marshal(d.alarms.Save(d.now(), d.o.Boot)) // plain values
	}
	s := outbox.State{Alarms: d.saved, Channels: maps.Clone(d.others), Lost: slices.Clone(d.lost), Joined: d.joined}
	for name, w := range d.channels {
		s.Channels[name] = w.fares
	}
	for _, r := range d.rows {
		s.Waiting = append(s.Waiting, outbox.Message{Seq: r.seq, ID: r.ID, Channel: r.Channel, At: r.At, Left: r.counted, Notice: r.notice})
	}
	return s
}

// load goes on from what was kept. The lock is held, or nobody else has the
// dispatcher yet.
func (d *Dispatcher) load(s outbox.State) {
	for _, p := range s.Waiting {
		d.seq = max(d.seq, p.Seq)
	}
	for name, w := range s.Channels {
		if known := d.channels[name]; known != nil {
			known.fares = w
		} else {
			d.others[name] = w
		}
	}
	for _, l := range s.Lost {
		d.lose(l)
	}
	for _, p := range s.Waiting {
		d.resume(p)
	}
}

// resume takes up a message that waited.
func (d *Dispatcher) resume(p outbox.Message) {
	r := &row{
		Message: Message{ID: p.ID, Channel: p.Channel, Site: d.o.Names.Site, At: p.At}, notice: p.Notice,
		seq: p.Seq, left: p.Left,
	}
	err := json.Unmarshal(p.Notice, &r.Notice)
	switch {
	case err != nil:
		r.error = "what it says cannot be read any more"
	case d.channels[p.Channel] == nil:
		r.error = "this way is not in the file any more"
	default:
		r.left = min(r.left, lifetime(&r.Notice))
		r.counted = r.left
		d.rows = append(d.rows, r)
		return
	}
	d.lose(r.asLost())
	d.changed(vital)
}

// found joins what could only be read late to what there is.
func (d *Dispatcher) found(s outbox.State) {
	d.mu.Lock()
	defer d.mu.Unlock()
	since := d.rows
	d.rows = nil
	s = d.unknown(s, since)
	d.load(outbox.State{Waiting: s.Waiting, Lost: s.Lost, Channels: d.joinChannels(s.Channels)})
	d.rows = append(d.rows, since...)
	if saved, ok := savedOf(s.Alarms); ok {
		d.alarms.Join(saved, d.now(), d.o.Boot)
	}
	d.joined = true
	d.alarmsChanged(vital)
	d.wakeChannels()
	d.poke()
}

// unknown leaves out the messages that the dispatcher knows of.
func (d *Dispatcher) unknown(s outbox.State, rows []*row) outbox.State {
	known := map[string]bool{}
	for _, r := range rows {
		known[r.ID] = true
	}
	for i := range d.lost {
		known[d.lost[i].ID] = true
	}
	s.Waiting = slices.DeleteFunc(slices.Clone(s.Waiting), func(p outbox.Message) bool { return known[p.ID] })
	s.Lost = slices.DeleteFunc(slices.Clone(s.Lost), func(l outbox.Lost) bool { return known[l.ID] })
	return s
}

// joinChannels is how the channels have fared before and since.
func (d *Dispatcher) joinChannels(before map[string]outbox.Channel) map[string]outbox.Channel {
	all := map[string]outbox.Channel{}
	for name, b := range before {
		if w := d.channels[name]; w != nil {
			b.Sent, b.Confirmed = later(b.Sent, w.fares.Sent), later(b.Confirmed, w.fares.Confirmed)
			if w.fares.Code != "" {
				b.Code, b.Asked = w.fares.Code, w.fares.Asked
			}
		}
		all[name] = b
	}
	return all
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// savedOf reads a list of alarms; false where there is none that can be read.
func savedOf(text json.RawMessage) (saved alarm.Saved, ok bool) {
	ok = text != nil && json.Unmarshal(text, &saved) == nil
	return saved, ok
}
