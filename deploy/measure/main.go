package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"time"
)

// plant is where things are while they are measured.
type plant struct {
	root     string // of the repository
	dir      string // for what goes with the run
	program  string // benchtide as it is released
	exporter string // prometheus-node-exporter; empty without it
	rest     time.Duration
	watch    time.Duration
	board    bool
}

// row is one line of a table.
type row struct{ what, budget, measured string }

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

func run() error {
	var p plant
	write := flag.Bool("write", false, "write the tables into DEVELOPERS.md, too")
	flag.StringVar(&p.exporter, "exporter", "", "prometheus-node-exporter, to be measured beside the daemon")
	flag.DurationVar(&p.rest, "rest", 2*time.Minute, "how long daemon and exporter are watched at rest")
	flag.DurationVar(&p.watch, "watch", time.Minute, "how long the loop is watched without and with clients")
	flag.BoolVar(&p.board, "board", false, "have deploy/boardtest measure the emulated board, which takes some minutes; -write does")
	commit := flag.String("against", "", "in place of all that, measure this commit and this tree in turns, and compare them")
	times := flag.Int("times", 6, "how often, with -against")
	flag.Parse()
	p.board = p.board || *write
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()

	var err error
	if p.root, err = os.Getwd(); err != nil {
		return err
	}
	if p.dir, err = os.MkdirTemp("", "benchtide-measure-"); err != nil {
		return err
	}
	defer os.RemoveAll(p.dir)
	if *commit != "" {
		text, err := p.against(ctx, *commit, *times)
		fmt.Print(text)
		return err
	}
	text, err := p.measure(ctx)
	if err != nil {
		return err
	}
	fmt.Print(text)
	if *write {
		return p.intoPaper(text)
	}
	return nil
}

// measure makes the text of all tables.
func (p *plant) measure(ctx context.Context) (string, error) {
	var b strings.Builder
	fmt.Fprintf(&b, "On %s.\n\n", machine())
	before := load()
	if err := p.build(ctx); err != nil {
		return "", err
	}
	var rows []row
	var beside string
	for _, step := range []func(context.Context) ([]row, error){
		p.seasons, p.campaign, p.emulated,
		func(ctx context.Context) (rows []row, err error) { rows, beside, err = p.atRest(ctx); return rows, err },
		p.storage, p.firstLoad, p.loopDelay, p.strangers, p.size,
	} {
		found, err := step(ctx)
		if err != nil {
			return "", err
		}
		rows = append(rows, found...)
	}
	table(&b, []string{"what", "budget", "measured"}, rows)
	fmt.Fprintf(&b, "\n%s\n", beside)
	grown, err := p.growth(ctx)
	if err != nil {
		return "", err
	}
	fmt.Fprintf(&b, "%s\nThe machine's load was %s before and %s after, on %d processors: figures by the clock would be better on one that is at rest.\n", grown, before, load(), processors())
	return b.String(), nil
}

func table(b *strings.Builder, head []string, rows []row) {
	fmt.Fprintf(b, "| %s |\n|%s\n", strings.Join(head, " | "), strings.Repeat("---|", len(head)))
	for _, r := range rows {
		fmt.Fprintf(b, "| %s | %s | %s |\n", r.what, r.budget, r.measured)
	}
}

// begins and ends bound what is written into DEVELOPERS.md.
const (
	begins = "## What it costs\n"
	ends   = "\n## "
)

// intoPaper puts the text in the place of the one before.
func (p *plant) intoPaper(text string) error {
	path := filepath.Join(p.root, "DEVELOPERS.md")
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	before, rest, found := strings.Cut(string(data), begins)
	if !found {
		return fmt.Errorf("%s has no %q", path, strings.TrimSpace(begins))
	}
	_, after, found := strings.Cut(rest, ends)
	if !found {
		return fmt.Errorf("nothing follows %q in %s", strings.TrimSpace(begins), path)
	}
	return os.WriteFile(path, []byte(before+begins+"\n"+text+ends+after), 0o644)
}
