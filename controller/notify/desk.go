package notify

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
	"benchtide/safety"
)

// Options are what a desk is made of.
type Options struct {
	Rules  alarm.Rules
	Names  controller.Names
	Ways   []Way
	Store  Store                // of what must outlast the program; nil keeps nothing
	Before *outbox.State        // of the desk whose place it takes, which knew more than storage may; nil at a program's start
	Boot   string               // identity of this boot
	Mono   func() time.Duration // the boot-time clock, for any goroutine
	Speed  float64              // how much faster than real time it runs; 0 means it does not

	Signal func(lamp, buzzer bool) // the outputs on the box; it must not wait, and may be nil

	// Failing is told once when a way has failed for a while, and once, with no
	// trouble, when it works again. It must not wait; it may be nil.
	Failing func(way, trouble string)
}

// Desk is where messages leave the house. Turn is for the goroutine of the
// loop; all else is for any. Its lock is held over what is in memory alone,
// never over storage or a delivery.
type Desk struct {
	o       Options
	inbox   inbox
	work    chan struct{} // there is something to work up
	keeping chan struct{} // there is something for storage
	run     string        // of this run of the program, in the ids of its parcels

	mu       sync.Mutex // over all below
	panel    *alarm.Panel
	seq      int64
	rows     []*row        // waiting, in order
	lost     []outbox.Lost // oldest first
	ways     map[string]*way
	others   map[string]outbox.Way // ways that are not in the file now
	saved    json.RawMessage       // the panel, as storage has it
	panelNew bool                  // it is not any more
	unkept   news                  // what storage does not know
	joined   bool                  // what was found late is in
	most     int                   // parcels that wait for one way
	last     safety.Now            // as of the latest turn worked up
	seen     bool                  // there was one
	picture  controller.Status     // only read
	lamp     [2]bool
}

// way is a Way and how it fares.
type way struct {
	Way
	fares     outbox.Way
	wake      chan struct{}
	after     time.Time // not tried before
	tries     int       // in a row that failed
	at        time.Time // when the waiting was last counted
	delivered uint64
	failed    uint64
	trouble   string
	since     time.Time // when it began to fail
	told      bool      // that it fails
}

var _ loop.Sink = (*Desk)(nil)

// Open goes on with what the store has.
func Open(o Options, now safety.Now) *Desk {
	if o.Store == nil {
		o.Store = &outbox.Memory{}
	}
	d := &Desk{
		o: o, work: make(chan struct{}, 1), keeping: make(chan struct{}, 1), run: newRun(),
		ways: map[string]*way{}, others: map[string]outbox.Way{}, last: now, most: mostWaiting,
	}
	for _, w := range o.Ways {
		d.ways[w.Name()] = &way{Way: w, wake: make(chan struct{}, 1), at: time.Now()}
	}
	before := o.Store.Outbox()
	if o.Before != nil {
		before = *o.Before
	}
	d.load(before)
	if saved, ok := savedOf(before.Alarms); ok {
		d.panel = alarm.Resume(o.Rules, o.Names, saved, now, o.Boot)
	} else {
		d.panel = alarm.New(o.Rules, o.Names)
	}
	d.panelNew = true
	d.changed(routine)
	o.Store.OnFound(d.found)
	return d
}

// newRun tells the parcels of one run of the program from those of any other:
// of what a run sent just before its death there may be no record, and no other
// parcel may have its id.
func newRun() string {
	var id [6]byte
	_, _ = rand.Read(id[:]) // never fails
	return hex.EncodeToString(id[:])
}

// Run works until ctx ends.
func (d *Desk) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, w := range d.ways {
		all.Go(func() { d.carry(ctx, w) })
	}
	all.Go(func() { d.keep(ctx) })
	for rest(ctx, d.work, d.workUp()) {
	}
	all.Wait()
	d.workUp()
	d.handOver()
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
		if d.panel.See(in.now, &d.picture) {
			d.panelChanged(vital)
		}
	}
	if d.seen {
		d.step(in.picture != nil)
	}
	return d.lookIn()
}

// lookIn is how long until the panel has something to say, in real time.
func (d *Desk) lookIn() time.Duration {
	wait := idle
	if d.seen {
		left := float64(d.panel.Next() - d.now().Mono)
		wait = time.Duration(min(float64(idle), left/max(1, d.o.Speed)))
	}
	return max(wait, shortest)
}

// shortest keeps a clock that stands still from being asked without end.
const shortest = 20 * time.Millisecond

// take lets the panel have what was told in one turn.
func (d *Desk) take(t *told) {
	if t.flood != nil {
		d.panel.Flooded(t.flood)
		d.panelChanged(routine)
		return
	}
	d.panel.Raise(t.at, t.message)
	if t.message.Urgency == controller.ThisWeek {
		d.panelChanged(routine)
		return
	}
	d.panelChanged(vital)
}

// panelChanged has storage told of the panel. The lock is held.
func (d *Desk) panelChanged(n news) {
	d.panelNew = true
	d.changed(n)
}

// step queues what the panel has to say now, and shows the present where it
// changed. The lock is held.
func (d *Desk) step(changed bool) {
	now := d.now()
	if notices := d.panel.Step(now); len(notices) > 0 {
		d.panelChanged(vital)
		for i := range notices {
			d.queue(now, &notices[i])
		}
	}
	if changed || d.panelNew {
		d.show()
	}
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
		Parcel: Parcel{ID: fmt.Sprintf("msg_%s_%d", d.run, d.seq), Way: w.Name(), Site: d.o.Names.Site, At: now.Wall, Notice: n},
		seq:    d.seq, left: lifetime(&n),
	}
	r.counted = r.left
	r.notice, _ = json.Marshal(n) // plain values
	d.rows = append(d.rows, r)
	d.changed(vital)
	w.awake()
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
		if r.Way != w.Name() {
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
		d.giveUp(oldest)
		d.sweep()
	}
}

func (d *Desk) waitsFor(w *way, id int64) bool {
	for _, r := range d.rows {
		if r.Way == w.Name() && r.Notice.Alarm.ID == id && r.Notice.Kind != alarm.Gone {
			return true
		}
	}
	return false
}

// wakeWays has every way look for something to do.
func (d *Desk) wakeWays() {
	for _, w := range d.ways {
		w.awake()
	}
}

func (w *way) awake() {
	select {
	case w.wake <- struct{}{}:
	default:
	}
}
