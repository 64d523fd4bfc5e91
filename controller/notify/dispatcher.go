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

// Options are what a dispatcher is made of.
type Options struct {
	Rules    alarm.Rules
	Names    controller.Names
	Channels []Channel
	Store    Store                // of what must outlast the program; nil keeps nothing
	Before   *outbox.State        // of the dispatcher whose place it takes, which knew more than storage may; nil at a program's start
	Boot     string               // identity of this boot
	Mono     func() time.Duration // the boot-time clock, for any goroutine
	Speed    float64              // how much faster than real time it runs; 0 means it does not

	Signal func(lamp, buzzer bool) // the outputs on the box; it must not wait, and may be nil

	// Failing is told once when a channel has failed for a while, and once,
	// with no trouble, when it works again. It must not wait; it may be nil.
	Failing func(channel, trouble string)
}

// Dispatcher is where messages leave the house. Turn is for the goroutine of the
// loop; all else is for any. Its lock is held over what is in memory alone,
// never over storage or a delivery.
type Dispatcher struct {
	o       Options
	inbox   inbox
	work    chan struct{} // there is something to work up
	keeping chan struct{} // there is something for storage
	run     string        // of this run of the program, in the ids of its messages

	mu        sync.Mutex // over all below
	alarms    *alarm.List
	seq       int64
	rows      []*row        // waiting, in order
	lost      []outbox.Lost // oldest first
	channels  map[string]*channel
	others    map[string]outbox.Channel // those that are not in the file now
	saved     json.RawMessage           // the list of alarms, as storage has it
	alarmsNew bool                      // it is not any more
	unkept    news                      // what storage does not know
	joined    bool                      // what was found late is in
	most      int                       // messages that wait for one channel
	last      safety.Now                // as of the latest turn worked up
	seen      bool                      // there was one
	snapshot  controller.Status         // only read
	lamp      [2]bool
}

// channel is a Channel and how it fares.
type channel struct {
	Channel
	fares     outbox.Channel
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

var _ loop.Sink = (*Dispatcher)(nil)

// Open goes on with what the store has.
func Open(o Options, now safety.Now) *Dispatcher {
	if o.Store == nil {
		o.Store = &outbox.Memory{}
	}
	d := &Dispatcher{
		o: o, work: make(chan struct{}, 1), keeping: make(chan struct{}, 1), run: newRun(),
		channels: map[string]*channel{}, others: map[string]outbox.Channel{}, last: now, most: mostWaiting,
	}
	for _, w := range o.Channels {
		d.channels[w.Name()] = &channel{Channel: w, wake: make(chan struct{}, 1), at: time.Now()}
	}
	before := o.Store.Outbox()
	if o.Before != nil {
		before = *o.Before
	}
	d.load(before)
	if saved, ok := savedOf(before.Alarms); ok {
		d.alarms = alarm.Resume(o.Rules, o.Names, saved, now, o.Boot)
	} else {
		d.alarms = alarm.New(o.Rules, o.Names)
	}
	d.alarmsNew = true
	d.changed(routine)
	o.Store.OnFound(d.found)
	return d
}

// newRun tells the messages of one run of the program from those of any other:
// of what a run sent just before its death there may be no record, and no other
// message may have its id.
func newRun() string {
	var id [6]byte
	_, _ = rand.Read(id[:]) // never fails
	return hex.EncodeToString(id[:])
}

// Run works until ctx ends.
func (d *Dispatcher) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, w := range d.channels {
		all.Go(func() { d.deliver(ctx, w) })
	}
	all.Go(func() { d.keep(ctx) })
	for rest(ctx, d.work, d.workUp()) {
	}
	all.Wait()
	d.workUp()
	d.handOver()
}

// now is the present, reckoned on from the latest turn.
func (d *Dispatcher) now() safety.Now {
	n := d.last
	if d.o.Mono != nil && d.seen {
		if passed := d.o.Mono() - n.Mono; passed > 0 {
			n.Mono += passed
			n.Wall = n.Wall.Add(passed)
		}
	}
	return n
}

// workUp takes what came in, lets the list of alarms decide, and queues what it
// says. It returns when to look again.
func (d *Dispatcher) workUp() time.Duration {
	d.mu.Lock()
	defer d.mu.Unlock()
	in := d.inbox.take()
	for i := range in.told {
		d.take(&in.told[i])
	}
	if in.any {
		d.last, d.seen = in.now, true
	}
	if in.snapshot != nil {
		d.snapshot = in.snapshot.Status
		if d.alarms.See(in.now, &d.snapshot) {
			d.alarmsChanged(vital)
		}
	}
	if d.seen {
		d.step(in.snapshot != nil)
	}
	return d.lookIn()
}

// lookIn is how long until the list of alarms has something to say, in real time.
func (d *Dispatcher) lookIn() time.Duration {
	wait := idle
	if d.seen {
		left := float64(d.alarms.Next() - d.now().Mono)
		wait = time.Duration(min(float64(idle), left/max(1, d.o.Speed)))
	}
	return max(wait, shortest)
}

// shortest keeps a clock that stands still from being asked without end.
const shortest = 20 * time.Millisecond

// take lets the list of alarms have what was told in one turn.
func (d *Dispatcher) take(t *told) {
	if t.flood != nil {
		d.alarms.Flooded(t.flood)
		d.alarmsChanged(routine)
		return
	}
	d.alarms.Raise(t.at, t.message)
	if t.message.Urgency == controller.ThisWeek {
		d.alarmsChanged(routine)
		return
	}
	d.alarmsChanged(vital)
}

// alarmsChanged has storage told of the list of alarms. The lock is held.
func (d *Dispatcher) alarmsChanged(n news) {
	d.alarmsNew = true
	d.changed(n)
}

// step queues what the list of alarms has to say now, and shows the present
// where it changed. The lock is held.
func (d *Dispatcher) step(changed bool) {
	now := d.now()
	if notices := d.alarms.Step(now); len(notices) > 0 {
		d.alarmsChanged(vital)
		for i := range notices {
			d.queue(now, &notices[i])
		}
	}
	if changed || d.alarmsNew {
		d.show()
	}
	lamp, buzzer := d.alarms.Signals()
	if d.o.Signal != nil && d.lamp != [2]bool{lamp, buzzer} {
		d.lamp = [2]bool{lamp, buzzer}
		d.o.Signal(lamp, buzzer)
	}
}

// queue makes a message of a notice for each channel that it goes.
func (d *Dispatcher) queue(now safety.Now, n *alarm.Notice) {
	if n.Kind == alarm.Digest {
		n.Body += d.afterword()
	}
	for _, o := range d.o.Channels {
		if w := d.channels[o.Name()]; !w.Second() || n.Second {
			d.put(now, w, *n)
		}
	}
}

// put queues a message for one channel. A reminder of what still waits there is
// left out: it would say the same.
func (d *Dispatcher) put(now safety.Now, w *channel, n alarm.Notice) {
	if n.Kind == alarm.Again && d.waitsFor(w, n.Alarm.ID) {
		return
	}
	d.makeRoom(w)
	d.seq++
	r := &row{
		Message: Message{ID: fmt.Sprintf("msg_%s_%d", d.run, d.seq), Channel: w.Name(), Site: d.o.Names.Site, At: now.Wall, Notice: n},
		seq:     d.seq, left: lifetime(&n),
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

// mostWaiting bounds what waits for one channel.
const mostWaiting = 2000

// makeRoom gives up the oldest message that is not urgent, or else the oldest,
// where too many wait.
func (d *Dispatcher) makeRoom(w *channel) {
	var oldest *row
	n := 0
	for _, r := range d.rows {
		if r.Channel != w.Name() {
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

func (d *Dispatcher) waitsFor(w *channel, id int64) bool {
	for _, r := range d.rows {
		if r.Channel == w.Name() && r.Notice.Alarm.ID == id && r.Notice.Kind != alarm.Gone {
			return true
		}
	}
	return false
}

// wakeChannels has every channel look for something to do.
func (d *Dispatcher) wakeChannels() {
	for _, w := range d.channels {
		w.awake()
	}
}

func (w *channel) awake() {
	select {
	case w.wake <- struct{}{}:
	default:
	}
}
