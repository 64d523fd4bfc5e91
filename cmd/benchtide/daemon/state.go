package daemon

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller"
	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/live"
	"benchtide/controller/loop"
	"benchtide/controller/notify/outbox"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// stateFlags say where a daemon keeps what must outlast it, and who is there.
type stateFlags struct {
	State    string `placeholder:"DIR" help:"Where the ledger is kept; the service manager's $STATE_DIRECTORY unless given, else nowhere."`
	Attended bool   `help:"Flood although this wiring is not commissioned: a person stays beside the bench."`
}

func (f stateFlags) dir() string {
	if f.State != "" {
		return f.State
	}
	return os.Getenv("STATE_DIRECTORY")
}

// kept is what a daemon goes on from, and goes on writing.
type kept struct {
	site        *config.Site // as calibrated
	written     *config.Site // as in the file
	verdict     commission.Verdict
	unattended  string // why floods may not start by themselves; empty when they may
	checkpoint  *loop.Checkpoint
	entries     []commission.Entry // what commissioning had found when the record was opened
	ledger      *ledger.Ledger
	dir         string        // of the ledger
	passing     bool          // dir goes with the program
	besides     string        // the directory of the site's file
	recordGrace time.Duration // how long a start waits for storage; 0 means the usual
	found       []string      // what a person has to know now of the record
	before      *before       // what a reload goes on from; nil at a program start
	unheard     error         // what of the messages that waited cannot be read; nil when all could
	notInForce  error         // why the changed file is not in force; nil when there is none
	notices     []string
}

// heartbeat is how often the daemon leaves a checkpoint when nothing changes,
// so that an outage has a beginning. It costs about 90 KiB of writes a day.
const heartbeat = time.Hour

// open reads what the daemon before left in the state directory. Without one
// the record goes with the program, and a wired board is never commissioned.
func (f stateFlags) open(site *config.Site, at kept, now safety.Now) (kept, error) {
	k, err := openRecord(at, site)
	if err != nil {
		return k, err
	}
	if k.passing && !at.passing {
		k.notices = append(k.notices, "The record of floods goes with the program. Give --state DIR to keep it.")
	}
	if err := k.judge(k.entries, now, f.Attended); err != nil {
		return k, errors.Join(err, k.ledger.Close())
	}
	return k, nil
}

// openRecord opens the ledger where the record is to be; where that is
// nowhere, in a directory that goes with the program.
func openRecord(at kept, site *config.Site) (kept, error) {
	k := kept{site: site, dir: at.dir, passing: at.passing}
	if k.dir == "" {
		passing, err := os.MkdirTemp("", "benchtide-")
		if err != nil {
			return k, fmt.Errorf("make a place for the record: %w; give --state DIR", err)
		}
		k.dir, k.passing = passing, true
	}
	o := onsite.RecordOptions(k.dir, site)
	if at.site != nil { // a reload: whatever changed, the record is ours
		o.Formerly = append(o.Formerly, at.site.Name)
	}
	l, recovered, err := ledger.Open(k.dir, o)
	if err != nil {
		return k, err
	}
	k.ledger, k.checkpoint, k.found, k.unheard = l, recovered.Checkpoint, onsite.FoundOf(recovered), recovered.Messages
	k.entries = onsite.EntriesOf(recovered.Commissioned)
	return k, nil
}

// lasting is the directory that outlasts the program; empty without one.
func (k *kept) lasting() string {
	if k.passing {
		return ""
	}
	return k.dir
}

// judge applies what commissioning is worth.
func (k *kept) judge(entries []commission.Entry, now safety.Now, attended bool) error {
	k.written = k.site
	verdict, err := commission.Judge(k.site, entries, now)
	if err == nil {
		k.site, err = verdict.Apply(k.site)
	}
	if err != nil {
		return fmt.Errorf("apply what commissioning found: %w; run \"benchtide commission\" again", err)
	}
	k.verdict, k.unattended = verdict, verdict.Unattended
	if attended && k.unattended != "" {
		k.unattended = ""
		k.notices = append(k.notices, "Not commissioned, and floods start all the same: stay beside the bench.")
	}
	if k.site.Board == config.GPIO {
		k.notices = append(k.notices, verdict.Lines(k.site)...)
	}
	return nil
}

// overdue lists the benches whose proof test has become overdue since the
// record was judged. A record that cannot be read now says nothing new.
func (k *kept) overdue(ctx context.Context, now safety.Now) (benches []int) {
	entries, err := onsite.Record{Ctx: ctx, Ledger: k.ledger, Zone: k.site.Zone}.Entries()
	if err != nil {
		return nil
	}
	later, err := commission.Judge(k.written, entries, now)
	if err != nil {
		return nil
	}
	for i, t := range later.Tests {
		if t.Overdue && !k.verdict.Tests[i].Overdue {
			benches = append(benches, i)
		}
	}
	return benches
}

// core returns the guard and the controller that go on from the checkpoint.
func (k *kept) core(now safety.Now, boot string) (*safety.Guard, *controller.Controller, controller.Setup, error) {
	setup, err := rehearse.Setup(k.site)
	if err != nil {
		return nil, nil, setup, err
	}
	setup.Unattended, setup.RecordGrace = k.unattended, k.recordGrace
	if k.before != nil {
		c, err := controller.Resume(setup, now, k.before.state, thisBoot)
		return k.before.guard.Reloaded(setup.Limits, now), c, setup, err
	}
	if k.checkpoint == nil {
		c, err := controller.New(setup, now)
		return safety.New(setup.Limits, safety.State{}, now, boot), c, setup, err
	}
	c, err := controller.Resume(setup, now, k.checkpoint.Controller, boot)
	return safety.New(setup.Limits, k.checkpoint.Guard, now, boot), c, setup, err
}

// errors counts what storage did not take.
func (k *kept) errors() uint64 {
	s := k.ledger.Stats()
	return uint64(s.Errors + s.Dropped)
}

func (k *kept) close() error {
	err := k.ledger.Close()
	if k.passing {
		err = errors.Join(err, os.RemoveAll(k.dir))
	}
	return err
}

// checked shows what commissioning is worth to the API. A proof test becomes
// overdue while the daemon runs.
func (k *kept) checked(now safety.Now) live.CommissioningStatus {
	return live.CommissioningStatus{
		Unattended: k.unattended == "", Why: k.verdict.Unattended,
		ProofTests: onsite.ProofTests(k.verdict, k.site.Zone, now), LeftOut: onsite.LeftOut(k.verdict, k.site.Zone),
	}
}

// before is what goes on across a reload: it is no program start.
type before struct {
	guard    *safety.Guard
	state    controller.State
	messages outbox.State
}

// thisBoot names the boot of a state that the same program goes on from.
const thisBoot = "this program"
