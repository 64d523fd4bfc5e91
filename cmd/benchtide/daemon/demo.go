package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/hw/sim"
	"benchtide/hw/sim/realtime"
)

// Demo runs a site on a simulated bench, faster than real time.
type Demo struct {
	daemonFlags
	Config string   `short:"c" placeholder:"FILE" help:"The file of another site, to run on a simulated bench; the built-in example unless given."`
	Fault  []string `sep:"none" placeholder:"FAULT" help:"Something wrong from the start, such as drain-blocked:north; those of \"rehearse\"."`
	State  string   `placeholder:"DIR" help:"Where the record and the bench are kept, and gone on from; without it nothing is kept."`
	Speed  float64  `default:"60" placeholder:"N" help:"How many times faster than real time the bench runs; ${default} unless given."`
}

// Help is what its --help says beside the flags, with an example.
func (Demo) Help() string {
	return `The bench begins 12 minutes before the first flood of a day, full of water and
with all well. Interrupt it to end. With --state the next demo goes on from there.

Examples:

    benchtide demo --speed 120
    benchtide demo -c bench.yaml --fault drain-blocked:north`
}

// Validate refuses a pace at which nothing would move.
func (c Demo) Validate() error {
	if !(c.Speed > 0) || math.IsInf(c.Speed, 0) {
		return fmt.Errorf("--speed %v: give a number above 0, such as 60", c.Speed)
	}
	return nil
}

// Run keeps the bench until ctx ends or the program is told to stop.
func (c Demo) Run(ctx context.Context, s *cli.Session) error {
	v, err := c.version(s)
	if err != nil {
		return err
	}
	site := v.site
	start, err := demoStart(site)
	if err != nil {
		return err
	}
	listener, err := c.listen()
	if err != nil {
		return err
	}
	k, err := openRecord(kept{dir: c.State}, site)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	k.besides = besides(v.name)
	m, err := c.machine(s, &k, start)
	if err != nil {
		return errors.Join(err, listener.Close(), k.close())
	}
	s.Notice("%s on a simulated bench, %g times faster than real time, from %s.",
		called(v.name), c.Speed, m.clock.Now().Wall.In(site.Zone).Format("Monday 2 January 2006 15:04"))
	return serve(ctx, s, k, m, listener, c.daemonFlags, nil)
}

// version reads the site's file, or takes the built-in example.
func (c Demo) version(s *cli.Session) (version, error) {
	if c.Config == "" {
		return newVersion(s, cli.ExampleName, config.Example)
	}
	name, text, err := cli.SiteFile{Config: c.Config}.Read(s)
	if err != nil {
		return version{}, err
	}
	return newVersion(s, name, text)
}

// called is what a person knows a site's file by.
func called(name string) string {
	if name == cli.ExampleName {
		return "The built-in example"
	}
	return name
}

// inject has the faults of the command line begin now.
func (c Demo) inject(world *sim.World) error {
	for _, text := range c.Fault {
		what, where, _ := strings.Cut(text, ":")
		if err := world.Inject(sim.Fault{What: what, Where: where, At: world.Elapsed(), Size: 1}); err != nil {
			return cli.Usagef("--fault %s: %w", text, err)
		}
	}
	return nil
}

// machine is the simulated bench with its paced clock, gone on with where it
// is kept.
func (c Demo) machine(s *cli.Session, k *kept, start time.Time) (machine, error) {
	world, start, err := resumeWorld(k.dir, k.site, k.checkpoint, start)
	if err != nil {
		return machine{}, err
	}
	if err := c.inject(world); err != nil {
		return machine{}, err
	}
	clock := realtime.NewClock(world, c.Speed)
	m := machine{clock: clock, mono: clock.Mono, board: world, boot: "demo", speed: c.Speed}
	if !k.passing {
		m.sinks = append(m.sinks, &worldKeeper{world: world, start: start, path: filepath.Join(k.dir, simulatedName), tell: s.Notice})
	}
	k.recordGrace = time.Duration(float64(controller.DefaultRecordGrace) * c.Speed) // storage is as fast as ever
	return m, nil
}

// beforeFirstFlood is long enough to see the stirrer begin.
const beforeFirstFlood = 12 * time.Minute

// demoStart is a little before the first flood of a day on which the plants
// of the first batch are half way through their plan.
func demoStart(site *config.Site) (time.Time, error) {
	calendar, err := site.Calendar()
	if err != nil {
		return time.Time{}, err
	}
	batch := site.Batches[0]
	stages := site.Plans[batch.Plan].Stages
	day := batch.Transplanted.AddDays(stages[len(stages)/2].FromDay)
	first, ok := calendar.After(batch.Bench, day.At(0))
	if !ok {
		return time.Time{}, fmt.Errorf("begin the demo: no flood is planned after %s", day)
	}
	return first.Due.Add(-beforeFirstFlood), nil
}
