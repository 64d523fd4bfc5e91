package notify

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"sync"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/notify/alarm"
	"benchtide/safety"
)

// Options are what a desk is made of.
type Options struct {
	Rules alarm.Rules
	Names controller.Names
	Ways  []Way
	Dir   string               // of the queue's file; empty keeps nothing
	Boot  string               // identity of this boot
	Mono  func() time.Duration // the boot-time clock, for any goroutine
	Speed float64              // how much faster than real time it runs; 0 means it does not

	Signal func(lamp, buzzer bool) // the outputs on the box; it must not wait, and may be nil

	// Failing is told once when a way has failed for a while, and once, with no
	// trouble, when it works again. It must not wait; it may be nil.
	Failing func(way, trouble string)
}

// Desk is where messages leave the house. Turn is for the goroutine of the
// loop; all else is for any.
type Desk struct {
	o     Options
	inbox inbox
	work  chan struct{} // there is something to work up

	mu       sync.Mutex // over all below
	box      *box
	panel    *alarm.Panel
	identity string
	seq      int64
	rows     []*row // waiting, in order
	unsaved  []*row // storage does not know of their state
	panelNew bool   // storage does not know of the panel's state
	ways     map[string]*way
	trouble  error // of storage
	most     int   // parcels that wait for one way
	saveAt   time.Time
	last     safety.Now        // as of the latest turn worked up
	seen     bool              // there was one
	picture  controller.Status // only read
	lamp     [2]bool
}

// way is a Way and how it fares.
type way struct {
	Way
	standing
	dirty     bool
	wake      chan struct{}
	after     time.Time // not tried before
	tries     int       // in a row that failed
	at        time.Time // when the waiting was last counted
	delivered uint64
	failed    uint64
	lost      int
	trouble   string
	since     time.Time // when it began to fail
	told      bool      // that it fails
}

var _ loop.Sink = (*Desk)(nil)

// Open goes on with what the directory holds. The error says that nothing, or
// not all, could be read; the desk works all the same, from memory.
func Open(o Options, now safety.Now) (*Desk, error) {
	d := &Desk{o: o, work: make(chan struct{}, 1), ways: map[string]*way{}, last: now, most: mostWaiting}
	for _, w := range o.Ways {
		d.ways[w.Name()] = &way{Way: w, wake: make(chan struct{}, 1), at: time.Now()}
	}
	err := d.load(now)
	if d.panel == nil {
		d.panel = alarm.New(o.Rules, o.Names)
	}
	if d.identity == "" {
		var id [6]byte
		_, _ = rand.Read(id[:]) // never fails
		d.identity = hex.EncodeToString(id[:])
	}
	d.panelNew = true
	return d, err
}

func (d *Desk) load(now safety.Now) error {
	if d.o.Dir == "" {
		return nil
	}
	var err error
	d.box, err = openBox(d.o.Dir)
	if d.box == nil {
		d.trouble = err
		return err
	}
	var saved alarm.Saved
	if d.box.part("panel", &saved) {
		d.panel = alarm.Resume(d.o.Rules, d.o.Names, saved, now, d.o.Boot)
	}
	d.box.part("identity", &d.identity)
	rows, last, rowsErr := d.box.waiting()
	d.seq = last
	for _, r := range rows {
		r.Site = d.o.Names.Site
		if d.ways[r.Way] == nil {
			r.state, r.error = undelivered, "this way is not in the file any more"
			d.unsaved = append(d.unsaved, r)
			continue
		}
		d.rows = append(d.rows, r)
	}
	standings, waysErr := d.box.ways()
	for name, s := range standings {
		if w := d.ways[name]; w != nil {
			w.standing = s
		}
	}
	lost, lostErr := d.box.lost()
	for _, l := range lost {
		if w := d.ways[l.Way]; w != nil {
			w.lost++
		}
	}
	return errors.Join(err, rowsErr, waysErr, lostErr)
}

// Run works until ctx ends.
func (d *Desk) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, w := range d.ways {
		all.Go(func() { d.carry(ctx, w) })
	}
	for rest(ctx, d.work, d.workUp()) {
	}
	all.Wait()
	d.workUp()
}

// Close closes the queue's file. Run has ended.
func (d *Desk) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.box.close()
}

// now is the present, reckoned on from the latest turn.
func (d *Desk) now() safety.Now {
	n := d.last
	if d.o.Mono != nil && d.seen {
		if passed := d.o.Mono() - n.Mono; passed > 0 {
			n.Mono += passed
			n.Wall = n.Wall.Add(passed)
		}
	}
	return n
}

// workUp takes what came in, lets the panel decide, and queues what it says. It
// returns when to look again.
func (d *Desk) workUp() time.Duration {
	d.mu.Lock()
	defer d.mu.Unlock()
	in := d.inbox.take()
	for i := range in.told {
		d.take(&in.told[i])
	}
	if in.any {
		d.last, d.seen = in.now, true
	}
	if in.picture != nil {
		d.picture = in.picture.Status
		d.panelNew = d.panel.See(in.now, &d.picture) || d.panelNew
	}
	if d.seen {
		d.step(in.picture != nil)
	}
	return d.lookIn()
}

// lookIn is how long until the panel has something to say, in real time, or
// until storage is tried again.
func (d *Desk) lookIn() time.Duration {
	wait := idle
	if d.seen {
		left := float64(d.panel.Next() - d.now().Mono)
		wait = time.Duration(min(float64(idle), left/max(1, d.o.Speed)))
	}
	if len(d.unsaved) > 0 || d.panelNew {
		wait = min(wait, saveAgainIn)
	}
	return max(wait, shortest)
}

// shortest keeps a clock that stands still from being asked without end.
const shortest = 20 * time.Millisecond

// take lets the panel have what was told in one turn.
func (d *Desk) take(t *told) {
	d.panelNew = true
	if t.flood != nil {
		d.panel.Flooded(t.flood)
		return
	}
	d.panel.Raise(t.at, t.message)
}

// step queues what the panel has to say now, and shows the present where it
// changed. The lock is held.
func (d *Desk) step(changed bool) {
	now := d.now()
	if notices := d.panel.Step(now); len(notices) > 0 {
		d.panelNew = true
		for i := range notices {
			d.queue(now, &notices[i])
		}
	}
	if changed || d.panelNew {
		d.show()
	}
	d.save(now)
	lamp, buzzer := d.panel.Signals()
	if d.o.Signal != nil && d.lamp != [2]bool{lamp, buzzer} {
		d.lamp = [2]bool{lamp, buzzer}
		d.o.Signal(lamp, buzzer)
	}
}

// queue makes a parcel of a notice for each way that it goes.
func (d *Desk) queue(now safety.Now, n *alarm.Notice) {
	if n.Kind == alarm.Digest {
		n.Body += d.afterword()
	}
	for _, o := range d.o.Ways {
		if w := d.ways[o.Name()]; !w.Second() || n.Second {
			d.put(now, w, *n)
		}
	}
}

// put queues a parcel for one way. A reminder of what still waits there is
// left out: it would say the same.
func (d *Desk) put(now safety.Now, w *way, n alarm.Notice) {
	if n.Kind == alarm.Again && d.waitsFor(w, n.Alarm.ID) {
		return
	}
	d.makeRoom(w)
	d.seq++
	r := &row{
		Parcel: Parcel{ID: fmt.Sprintf("msg_%s_%d", d.identity, d.seq), Way: w.Name(), Site: d.o.Names.Site, At: now.Wall, Notice: n},
		seq:    d.seq, left: lifetime(&n), state: waiting,
	}
	d.rows = append(d.rows, r)
	d.mark(r)
	if n.Alarm.Urgency == controller.Urgent || n.Kind == alarm.Test {
		w.after, w.tries = time.Time{}, 0
	}
}

// mostWaiting bounds what waits for one way.
const mostWaiting = 2000

// makeRoom gives up the oldest parcel that is not urgent, or else the oldest,
// where too many wait.
func (d *Desk) makeRoom(w *way) {
	var oldest *row
	n := 0
	for _, r := range d.rows {
		if r.Way != w.Name() || r.state != waiting {
			continue
		}
		n++
		urgent := r.Notice.Alarm.Urgency == controller.Urgent
		if oldest == nil || !urgent && oldest.Notice.Alarm.Urgency == controller.Urgent {
			oldest = r
		}
	}
	if n >= d.most {
		oldest.error = "too many messages wait"
		w.lost++
		d.settle(oldest, undelivered)
		d.sweep()
	}
}

func (d *Desk) waitsFor(w *way, id int64) bool {
	for _, r := range d.rows {
		if r.Way == w.Name() && r.Notice.Alarm.ID == id && r.state == waiting && r.Notice.Kind != alarm.Gone {
			return true
		}
	}
	return false
}

// mark has a parcel's state written with the next save.
func (d *Desk) mark(r *row) {
	if !r.dirty {
		r.dirty = true
		d.unsaved = append(d.unsaved, r)
	}
}

// saveAgainIn is how soon storage that failed is tried again.
const saveAgainIn = 10 * time.Second

// save writes what storage does not know, then lets the ways go on: nothing
// leaves the house before it is written down, unless storage takes no writes.
func (d *Desk) save(now safety.Now) {
	defer d.wakeWays()
	if d.box == nil || len(d.unsaved) == 0 && !d.panelNew || time.Now().Before(d.saveAt) {
		return
	}
	standings, parts := map[string]standing{}, map[string]any{}
	for name, w := range d.ways {
		if w.dirty {
			standings[name] = w.standing
		}
	}
	if d.panelNew {
		parts["panel"], parts["identity"] = d.panel.Save(now, d.o.Boot), d.identity
	}
	if err := d.box.store(d.unsaved, standings, parts); err != nil {
		d.trouble, d.saveAt = fmt.Errorf("keep the queue of messages: %w", err), time.Now().Add(saveAgainIn)
		return
	}
	for _, r := range d.unsaved {
		r.dirty = false
	}
	for _, w := range d.ways {
		w.dirty = false
	}
	d.unsaved, d.panelNew, d.trouble, d.saveAt = nil, false, nil, time.Time{}
}

func (d *Desk) wakeWays() {
	for _, w := range d.ways {
		select {
		case w.wake <- struct{}{}:
		default:
		}
	}
}
