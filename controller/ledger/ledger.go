package ledger

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"github.com/gofrs/flock"

	"benchtide/controller/loop"
	"benchtide/controller/notify/outbox"
	"benchtide/safety"
)

// Options are what a ledger is opened with. The zero value of all but Limits
// and Zone is a good one.
type Options struct {
	Limits safety.Limits  // the names of benches, reservoirs and outputs
	Zone   *time.Location // of the site; nil means UTC

	// Site is the name of the site; where it is given, the files of another one
	// are set aside. Formerly are the names that it had before.
	Site     string
	Formerly []string

	BatchFor   time.Duration // how long routine rows may wait for others; 0 means a quarter of an hour
	BatchRows  int           // how many of them wait at most; 0 means 500
	MemoryRows int           // rows but floods that wait while storage fails; 0 means 20,000

	KeepFloods int // per bench; 0 means 20,000
	KeepEvents int // per bench; 0 means 15,000
	KeepOthers int // per bench and table; 0 means 5,000

	// Fault, when not nil, is called on the ledger's goroutine at each step of
	// a write: open, begin, floods, rows, outputs, checkpoint, outbox, prune,
	// commit, committed, copy, old, acknowledged. An error up to commit fails the write. It is
	// for tests of crashes and of storage that fails or is slow.
	Fault func(step string) error
}

func (o Options) withDefaults() Options {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.BatchFor == 0 {
		o.BatchFor = 15 * time.Minute
	}
	for _, d := range []struct {
		n    *int
		with int
	}{
		{&o.BatchRows, 500}, {&o.MemoryRows, 20_000}, {&o.KeepFloods, 20_000}, {&o.KeepEvents, 15_000}, {&o.KeepOthers, 5_000},
	} {
		if *d.n == 0 {
			*d.n = d.with
		}
	}
	return o
}

// Ledger is the durable record of one site. Its methods are safe for any
// goroutine. It satisfies loop.Ledger.
type Ledger struct {
	options Options
	path    string
	lock    *flock.Flock
	reader  *sql.DB

	urgent chan struct{} // something must be written now
	begun  chan struct{} // something routine waits
	quit   chan struct{}
	done   chan struct{}
	closed sync.Once

	names names
	zone  *time.Location

	mu     sync.Mutex
	on     map[string]time.Duration // outputs that are on: counted until then, on the boot-time clock
	newest *loop.Checkpoint         // recorded last
	next   batch                    // what waits
	going  *batch                   // what is being written; only read until it is
	acks   []loop.Ack
	spare  []loop.Ack
	wake   func()
	stats  Stats
	probed bool // the trouble in stats is what a look at storage found

	before    outbox.State       // the messages when it was opened
	onFound   func(outbox.State) // guarded by mu
	foundLate *outbox.State      // guarded by mu; messages that became readable later

	stamp        stamp           // of the newest checkpoint; Seq guarded by mu
	commissioned []Commissioning // guarded by mu; what commissioning found, oldest first
	dir          os.FileInfo     // of the writing goroutine; the directory as it was opened
	held         *checkpoint     // of the writing goroutine; the newest handed over

	store  store  // of the writing goroutine
	copier copier // of the writing goroutine
}

var _ loop.Ledger = (*Ledger)(nil)

// Stats say how the ledger fares.
type Stats struct {
	Errors   int64    // writes that failed since it was opened
	Waiting  int      // rows not on storage yet
	Dropped  int64    // rows given up for want of memory while storage failed
	Trouble  error    // why the last write failed; nil when it went well
	SetAside string   // where a damaged file was put last; empty when none was
	Damage   error    // what was wrong with it
	Copy     error    // why the copy of the guard's state is not up to date; nil when it is
	Found    []string // what was found amiss of the files since it was opened, in whole sentences
}

// Open opens the ledger in dir, which it creates where it is missing, and says
// what a program needs to go on from. A damaged file is set aside and a new one
// begun. Storage that cannot be read or written, or a file that a newer program
// wrote, is no error but Recovered.Trouble: the ledger then works from memory and
// tries again. An error means that the program must not run on this directory:
// another one does, or dir is not a directory it may use.
func Open(dir string, o Options) (*Ledger, Recovered, error) {
	o = o.withDefaults()
	if err := os.MkdirAll(dir, 0o750); err != nil && !frozen(err) {
		return nil, Recovered{}, fmt.Errorf("open the ledger: make the state directory %q: %w", dir, err)
	}
	lock, err := acquire(dir)
	if err != nil {
		return nil, Recovered{}, err
	}
	l, err := newLedger(dir, o, lock)
	if err != nil {
		return nil, Recovered{}, errors.Join(err, lock.Close())
	}
	l.dir, _ = os.Stat(dir)
	r := l.recover()
	l.store.birth = nil
	go l.run()
	return l, r, nil
}

func newLedger(dir string, o Options, lock *flock.Flock) (*Ledger, error) {
	path := filepath.Join(dir, fileName)
	reader, err := connect(path, reading)
	if err != nil {
		return nil, fmt.Errorf("open the ledger %q: %w", path, err)
	}
	reader.SetMaxOpenConns(4)
	reader.SetMaxIdleConns(-1) // a set-aside file must not be read on, and idle memory is dear
	return &Ledger{
		options: o, path: path, lock: lock, reader: reader,
		urgent: make(chan struct{}, 1), begun: make(chan struct{}, 1), quit: make(chan struct{}), done: make(chan struct{}),
		names: namesOf(o.Limits), zone: o.Zone, on: make(map[string]time.Duration),
		stamp:  stamp{Seq: 1, Site: o.Site, Record: newRecord()},
		copier: copier{path: filepath.Join(dir, witnessName), fault: o.Fault},
		store: store{
			path: path, schema: schema, fault: o.Fault, now: time.Now, totals: make(map[dayOutput]run),
			keep: rings(len(o.Limits.Benches), len(o.Limits.Outputs), o.KeepFloods, o.KeepEvents, o.KeepOthers),
		},
	}, nil
}

// acquire keeps other programs off the directory. On storage that takes no new
// file there is nothing two programs could spoil.
func acquire(dir string) (*flock.Flock, error) {
	path := filepath.Join(dir, "ledger.lock")
	lock := flock.New(path, flock.SetPermissions(0o640))
	got, err := lock.TryLock()
	switch {
	case err != nil && !frozen(err):
		return nil, fmt.Errorf("open the ledger: lock %q: %w", path, err)
	case err == nil && !got:
		return nil, fmt.Errorf("open the ledger: another benchtide is running on %q; stop it, or use another state directory", dir)
	}
	return lock, nil
}

// frozen reports whether err says that storage takes nothing new: read-only,
// full or failing.
func frozen(err error) bool {
	return errors.Is(err, syscall.EROFS) || errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EIO)
}

// OnAcknowledged has wake called, from the ledger's goroutine, when there is
// something for Acknowledged. It must not wait.
func (l *Ledger) OnAcknowledged(wake func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.wake = wake
}

// Acknowledged returns the intentions stored since the last call. The slice is
// valid until the next call.
func (l *Ledger) Acknowledged() []loop.Ack {
	l.mu.Lock()
	defer l.mu.Unlock()
	got := l.acks
	l.acks, l.spare = l.spare[:0], got
	return got
}

// Stats says how the ledger fares.
func (l *Ledger) Stats() Stats {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := l.stats
	s.Waiting = l.next.waiting()
	if l.going != nil {
		s.Waiting += l.going.waiting()
	}
	return s
}

// Grace is how long whoever writes an entry waits for storage: it is in memory
// all the while, and goes on being tried.
const Grace = 5 * time.Second

// Add stores an entry, unless something is wrong with it. It returns when the
// entry is on storage or ctx ends; after ctx it still is in memory and is
// written when that is possible.
func (l *Ledger) Add(ctx context.Context, e Entry) error {
	r, err := e.row()
	if err != nil {
		return err
	}
	l.mu.Lock()
	l.next.rows = append(l.next.rows, r)
	if c, is := e.(Commissioning); is {
		l.commissioned = append(l.commissioned, c)
	}
	l.mu.Unlock()
	return l.Flush(ctx)
}

// Flush returns when everything recorded so far is on storage, or when ctx
// ends.
func (l *Ledger) Flush(ctx context.Context) error {
	stored := make(chan struct{})
	l.mu.Lock()
	l.next.stored = append(l.next.stored, stored)
	l.signal(true)
	l.mu.Unlock()
	select {
	case <-stored:
		return nil
	case <-ctx.Done():
	case <-l.done:
		select {
		case <-stored:
			return nil
		default:
		}
	}
	return fmt.Errorf("write to the ledger: not on storage yet, kept in memory: %w", cmp.Or(l.Stats().Trouble, ctx.Err(), fs.ErrClosed))
}

// Close writes what waits, once, and gives the directory free. An error says
// how much could not be written.
func (l *Ledger) Close() (err error) {
	l.closed.Do(func() {
		close(l.quit)
		<-l.done
		if s := l.Stats(); s.Waiting > 0 {
			err = fmt.Errorf("close the ledger: %d rows are lost: %w", s.Waiting, s.Trouble)
		}
		if p := &l.store.post; l.next.outbox != nil && p.copied != p.revision {
			err = errors.Join(err, fmt.Errorf("close the ledger: the latest of the messages is lost: %w", l.Stats().Trouble))
		}
		err = errors.Join(err, l.reader.Close(), l.lock.Close())
	})
	return err
}
