// Package bench has the commands for a person beside the bench, while no daemon
// holds its lines: commissioning, and putting every output off.
package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw"
	"benchtide/hw/gpio"
	"benchtide/hw/sim/realtime"
)

// Commission takes a person through the commissioning of a bench.
type Commission struct {
	cli.SiteFile
	State     string   `placeholder:"DIR" help:"Where the ledger is; unless given /var/lib/benchtide if that exists, and nowhere for a simulated board."`
	Answers   string   `placeholder:"FILE" help:"Take the answers from a file, one a line, in place of the terminal."`
	Log       string   `placeholder:"FILE" help:"Write questions and answers there, in the form that --answers reads."`
	ProofTest bool     `help:"Only prove the switches, as is due each month."`
	LeftOut   bool     `help:"Only do what was left out before."`
	Show      bool     `help:"Only show how things stand."`
	JSON      bool     `help:"Print how things stand at the end as one JSON object; what is said and asked goes to standard error."`
	Bench     []string `arg:"" optional:"" help:"With --proof-test: which benches; all unless named."`
}

// Help is what its --help says beside the flags, with an example.
func (Commission) Help() string {
	return `Takes a person beside the bench through the wiring, switch by switch and relay
by relay with the pumps unplugged, then through three timed floods that replace
the file's times, and through the faults that the bench has to stand. Answer stop
at any question, and everything goes off; the next time it goes on at the same
step. What takes long may be left out: it stands as not done until --left-out has
done it. With "board: simulated" it is a trial in which the bench does what it is
asked.

The daemon holds the lines, and would start with the computer: take it out of the
way first (systemctl disable --now benchtide), and bring it back afterwards
(systemctl enable --now benchtide).

The ledger has to stay the daemon's: where that runs as a user of its own, as
with the package, run this as that user. As root it would leave files that the
daemon may not write.

Examples:

    benchtide commission -c bench.yaml --state /var/lib/benchtide
    runuser -u benchtide -- benchtide commission -c /etc/benchtide/bench.yaml
    benchtide commission -c bench.yaml --left-out
    benchtide commission -c bench.yaml --proof-test north`
}

// Validate refuses flags that do not go together.
func (c Commission) Validate() error {
	switch {
	case c.Show && (c.ProofTest || c.LeftOut || c.Answers != "" || c.Log != ""):
		return fmt.Errorf("--show asks nothing: leave the other flags out")
	case c.ProofTest && c.LeftOut:
		return fmt.Errorf("--proof-test and --left-out: one after the other")
	case len(c.Bench) > 0 && !c.ProofTest:
		return fmt.Errorf("%s: benches are named with --proof-test alone; the whole site is commissioned at once", strings.Join(c.Bench, " "))
	}
	return nil
}

// Run talks to the person until all is done. It is cli.ErrNo where floods may not
// start by themselves, and an error where something could not be put off.
func (c Commission) Run(ctx context.Context, s *cli.Session) (err error) {
	site, warnings, err := c.Load(s)
	if err != nil {
		return err
	}
	for _, w := range warnings {
		s.Notice("%v", w)
	}
	ctx, stop := cli.UntilSignal(ctx)
	defer stop()
	o := commission.Options{Site: site, Setup: rehearse.Setup}
	closeLog, err := c.openLog(&o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeLog()) }()
	closeRecord, err := c.openRecord(ctx, s, &o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeRecord()) }()
	if c.Show {
		return c.show(s, o)
	}
	if err := c.openPerson(s, &o); err != nil {
		return err
	}
	if err := c.openBoard(&o); err != nil {
		return fmt.Errorf("%w. Nothing was switched on", err)
	}
	defer func() { err = errors.Join(err, o.Board.Close()) }()
	err = c.talk(ctx, s, o)
	if c.JSON {
		if _, unreadable := c.stand(s, o); unreadable != nil {
			return errors.Join(err, unreadable)
		}
	}
	return err
}

func (c Commission) talk(ctx context.Context, s *cli.Session, o commission.Options) error {
	var err error
	switch {
	case c.ProofTest:
		err = commission.Prove(ctx, o, c.Bench)
	case c.LeftOut:
		err = commission.RunLeftOut(ctx, o)
	default:
		err = commission.Run(ctx, o)
	}
	if err == nil || errors.Is(err, commission.ErrStopped) || errors.Is(err, commission.ErrFailed) || errors.Is(err, commission.ErrOut) {
		s.Notice("all off") // else the error says what could not be put off
	}
	if _, forgets := o.Record.(*commission.Memory); errors.Is(err, commission.ErrStopped) && !forgets {
		return fmt.Errorf("%w; run the command again to go on where it was", err)
	}
	return err
}

// show tells how things stand.
func (c Commission) show(s *cli.Session, o commission.Options) error {
	verdict, err := c.stand(s, o)
	if err == nil && verdict.Unattended != "" {
		return cli.ErrNo
	}
	return err
}

// stand prints what the record is worth now.
func (c Commission) stand(s *cli.Session, o commission.Options) (commission.Verdict, error) {
	entries, err := o.Record.Entries()
	if err != nil {
		return commission.Verdict{}, err
	}
	now := hw.NewSystemClock().Now()
	verdict, err := commission.Judge(o.Site, entries, now)
	switch {
	case err != nil:
		return verdict, err
	case c.JSON:
		return verdict, s.PrintJSON(verdictOf(o.Site, verdict, now))
	}
	for _, line := range verdict.Lines(o.Site) {
		fmt.Fprintln(s.Out, line)
	}
	return verdict, nil
}

// openPerson finds who answers.
func (c Commission) openPerson(s *cli.Session, o *commission.Options) error {
	out := s.Out
	if c.JSON {
		out = s.Err
	}
	if c.Answers == "" {
		o.Person = newTerminal(s.In, out)
		return nil
	}
	data, err := cli.ReadFile(c.Answers, "the answers")
	if err != nil {
		return err
	}
	script, err := commission.NewScript(c.Answers, strings.NewReader(string(data)), out)
	if err != nil {
		return cli.Usage(err)
	}
	o.Person = script
	return nil
}

func (c Commission) openLog(o *commission.Options) (func() error, error) {
	if c.Log == "" {
		return func() error { return nil }, nil
	}
	f, err := os.OpenFile(c.Log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o640)
	if err != nil {
		return nil, cli.Usagef("write the log: %w", err)
	}
	o.Log = f
	return f.Close, nil
}

// UsualState is where the daemon of a package keeps its ledger.
const UsualState = "/var/lib/benchtide"

// openRecord finds where results go. A trial on a simulated board keeps its
// floods in memory: its time is not the ledger's.
func (c Commission) openRecord(ctx context.Context, s *cli.Session, o *commission.Options) (func() error, error) {
	dir := c.State
	if _, err := os.Stat(UsualState); dir == "" && err == nil && o.Site.Board == config.GPIO {
		dir = UsualState
	}
	o.Ledger = &loop.Memory{}
	switch {
	case dir == "" && o.Site.Board == config.GPIO:
		return nil, cli.Usagef("commission a real board: the results have to be kept: give --state DIR, the directory of the daemon's ledger")
	case dir == "":
		s.Notice("A trial on the simulated board: without --state nothing of it is kept.")
		o.Record = &commission.Memory{}
		return func() error { return nil }, nil
	}
	l, recovered, err := ledger.Open(dir, onsite.RecordOptions(dir, o.Site))
	if err != nil {
		return nil, err
	}
	for _, found := range onsite.FoundOf(recovered) {
		s.Notice("%s", found)
	}
	o.Record = onsite.Record{Ctx: ctx, Ledger: l, Zone: o.Site.Zone}
	if o.Site.Board == config.GPIO {
		o.Ledger, o.Checkpoint = l, recovered.Checkpoint
	}
	return l.Close, nil
}

// openBoard opens the wired board beside the machine's clock, or a simulated
// one whose time passes as fast as its person answers.
func (c Commission) openBoard(o *commission.Options) error {
	if o.Site.Board == config.GPIO {
		clock := hw.NewSystemClock()
		if o.Checkpoint != nil {
			clock.SetFloor(o.Checkpoint.Controller.Known)
		}
		board, err := gpio.Open(onsite.Wiring(o.Site))
		o.Board, o.Clock, o.Boot, o.DeadMan = board, clock, hw.BootID(), true
		return err
	}
	world, err := rehearse.NewWorld(o.Site, trialStart(o.Site))
	if err != nil {
		return err
	}
	o.Board, o.Clock, o.Boot, o.Hands = world, world, "trial", hands{world}
	if c.Answers == "" {
		o.Clock = realtime.NewClock(world, trialSpeed)
	}
	return nil
}

const (
	trialSpeed = 20 // times real time, so that waits are short and a person can follow
	trialHour  = 20 // an evening, when no flood is due
)

// trialStart is an evening on which the first batch stands on its bench.
func trialStart(site *config.Site) time.Time {
	day := time.Date(2026, 1, 1, trialHour, 0, 0, 0, site.Zone)
	if len(site.Batches) == 0 {
		return day
	}
	return site.Batches[0].Transplanted.AddDays(1).At(trialHour * 3600).In(site.Zone)
}
