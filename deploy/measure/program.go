package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

// build makes the program as it is released.
func (p *plant) build(ctx context.Context) error {
	p.program = filepath.Join(p.dir, "benchtide")
	c := exec.CommandContext(ctx, "go", "build", "-trimpath", "-ldflags=-s -w", "-o", p.program, "./cmd/benchtide")
	c.Dir, c.Env = p.root, append(os.Environ(), "CGO_ENABLED=0")
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("build: %w\n%s", err, out)
	}
	return nil
}

// rehearse runs one rehearsal and returns its answer and the processor time.
func (p *plant) rehearse(ctx context.Context, into any, args ...string) (time.Duration, error) {
	c := exec.CommandContext(ctx, p.program, append([]string{"rehearse", "--json"}, args...)...)
	c.Dir, c.Env = p.dir, append(os.Environ(), "GOMAXPROCS=1")
	out, err := c.Output()
	if err != nil {
		return 0, fmt.Errorf("rehearse %s: %w", strings.Join(args, " "), err)
	}
	return c.ProcessState.UserTime() + c.ProcessState.SystemTime(), json.Unmarshal(out, into)
}

const seasonDays = 120

// seasons is the season of the example, with the start of the program.
func (p *plant) seasons(ctx context.Context) ([]row, error) {
	best := time.Hour
	for range 5 {
		var report struct{ Days int }
		took, err := p.rehearse(ctx, &report, "--from", "2026-03-02", "--days", fmt.Sprint(seasonDays), "--seed", "1")
		if err != nil {
			return nil, err
		}
		best = min(best, took)
	}
	pace := (seasonDays * 24 * time.Hour).Seconds() / best.Seconds()
	return []row{{"rehearsal of a season of 120 days, one bench, best of five", "0.1 s of a core", fmt.Sprintf("%.2f s, %.1f million times real time", best.Seconds(), pace/1e6)}}, nil
}

func (p *plant) campaign(ctx context.Context) ([]row, error) {
	var report struct {
		BenchYears int `json:"bench_years"`
	}
	took, err := p.rehearse(ctx, &report, "--campaign", "100", "--seed", "1", "--workers", "1")
	if err != nil {
		return nil, err
	}
	return []row{{"campaign of random bench-years with faults", "10 a second of a core", fmt.Sprintf("%.0f a second, of %d", float64(report.BenchYears)/took.Seconds(), report.BenchYears)}}, nil
}

// onTheBoard is what deploy/boardtest measures, and what it calls that.
var onTheBoard = []struct {
	called string
	row
}{
	{"start to every output off", row{what: "start until every output is off, on the emulated board", budget: "100 ms"}},
	{"HIGH made to pump line off", row{what: "HIGH made until the relay line is off, on the emulated board", budget: "20 ms, every time"}},
	{"HIGH made to enable line off", row{what: "the same, until that of the enable relay is", budget: "20 ms, every time"}},
}

func (p *plant) emulated(ctx context.Context) ([]row, error) {
	var out []byte
	if p.board {
		c := exec.CommandContext(ctx, "deploy/boardtest/run", "-v", "-run", "High")
		c.Dir = p.root
		var err error
		if out, err = c.CombinedOutput(); err != nil {
			return nil, fmt.Errorf("boardtest: %w\n%s", err, out)
		}
	}
	var rows []row
	for _, r := range onTheBoard {
		if r.measured = "not measured: give -board"; p.board {
			var found bool
			if r.measured, found = boardSays(r.called, string(out)); !found {
				return nil, fmt.Errorf("boardtest does not say how long it is from %s:\n%s", r.called, out)
			}
		}
		rows = append(rows, r.row)
	}
	return rows, nil
}

// boardSays finds how long something took, in what deploy/boardtest printed.
func boardSays(what, out string) (took string, found bool) {
	m := regexp.MustCompile(what + `, on the board's clock: min (\S+), median (\S+), max (\S+) of (\d+)`).FindStringSubmatch(out)
	if m == nil {
		return "", false
	}
	return fmt.Sprintf("%s (median %s, least %s, %s times)", short(m[3]), short(m[2]), short(m[1]), m[4]), true
}

var daily = regexp.MustCompile(`(\d+) KiB a day written to storage`)

// storage is what a bench that floods costs a card, in blocks of 4 KiB that change.
func (p *plant) storage(ctx context.Context) ([]row, error) {
	out, err := p.test(ctx, "./controller/ledger", "-run", "CostsStorageLessThan300KiBADay", "-v", "-count=1")
	if err != nil {
		return nil, err
	}
	measured := "the test does not say"
	if m := daily.FindStringSubmatch(out); m != nil {
		measured = m[1] + " KiB, a message among them"
	}
	return []row{{"written to storage a day and bench, with 4 floods", "300 KiB", measured}}, nil
}

var besieged = regexp.MustCompile(`strangers with \S.*: (\S+ MiB before, \S+ at most, \S+ after)`)

// strangers is what connections take of memory that thousands of strangers leave
// half-open, in the program that bears most of them.
func (p *plant) strangers(ctx context.Context) ([]row, error) {
	out, err := p.test(ctx, "./cmd/benchtide/daemon", "-run", "StrangersTakeLittleMemory/with_status_left_open", "-v", "-count=1", "-timeout", "20m", "-args", "-connections", "6000")
	if err != nil {
		return nil, err
	}
	measured := "the test does not say"
	if m := besieged.FindStringSubmatch(out); m != nil {
		measured = m[1]
	}
	return []row{{"memory while strangers open 6000 connections of each kind without TLS", "64 MiB more", measured}}, nil
}

func (p *plant) size(context.Context) ([]row, error) {
	info, err := os.Stat(p.program)
	if err != nil {
		return nil, err
	}
	return []row{{"the program, everything in it", "—", fmt.Sprintf("%.1f MiB", float64(info.Size())/(1<<20))}}, nil
}

// test runs tests and returns what they printed.
func (p *plant) test(ctx context.Context, pkg string, args ...string) (string, error) {
	c := exec.CommandContext(ctx, "go", append([]string{"test", pkg}, args...)...)
	c.Dir = p.root
	out, err := c.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go test %s: %w\n%s", pkg, err, out)
	}
	return string(out), nil
}

var delay = regexp.MustCompile(`(without clients|with \d+ clients|locked for \S+, \d+ clients), (\d+) benches: (\d+) turns, delay p50 (\S+) p99 \S+ p99\.9 (\S+) most ([^\s;]+)`)

// delays are what loopDelay finds, in order.
var delays = []string{"without clients", "with 200 event-stream clients", "with 200 clients that look, listen, scrape and act, and the record locked"}

// loopDelay watches the loop while a pump runs, without and with clients.
func (p *plant) loopDelay(ctx context.Context) (rows []row, err error) {
	out, err := p.test(ctx, "./cmd/benchtide/daemon", "-run", "EventStreamsLeaveTheLoopAlone|NoTurnWaitsForARecordThatIsLocked", "-v", "-count=1", "-args", "-clients", "200", "-watch", p.watch.String(), "-benches", "32")
	if err != nil {
		return nil, err
	}
	all := delay.FindAllStringSubmatch(out, -1)
	if len(all) != len(delays) {
		return nil, fmt.Errorf("the tests of the clients do not tell the delay of the loop:\n%s", out)
	}
	for i, m := range all {
		rows = append(rows, row{fmt.Sprintf("delay of the loop, p99.9, %s benches, %s", m[2], delays[i]), "20 ms", fmt.Sprintf("%s (median %s, most %s, %s turns)", short(m[5]), short(m[4]), short(m[6]), m[3])})
	}
	return rows, nil
}

// short is a length of time with three figures.
func short(text string) string {
	d, err := time.ParseDuration(text)
	if err != nil {
		return text
	}
	return span(float64(d))
}
