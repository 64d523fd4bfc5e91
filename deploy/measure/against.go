package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// compared are the benchmarks that two commits are compared by, and where each
// commit may keep them.
var compared = []struct {
	name, bench string
	at          []string
	args        []string
}{
	{"season", "^BenchmarkSeason120$", []string{"./controller/rehearse"}, nil},
	{"campaign", "^BenchmarkCampaign$", []string{"./controller/rehearse/campaign"}, []string{"-test.benchtime=1x"}},
	{"turn", "^BenchmarkTurn$/^benches=(1|32)$", []string{"./cmd/benchtide/daemon", "./cmd/benchtide"}, nil},
}

// side is one of the two commits.
type side struct {
	plant
	tests   map[string]string // binaries of compared, by name
	figures bytes.Buffer      // as benchmarks print them
}

// against measures another commit and this tree in turns, so that what else the
// machine does falls on both, and has benchstat set one beside the other: a season
// and a campaign of rehearsals, a turn of the loop, the start until every output
// is known off, and the resident memory of the daemon at rest.
func (p *plant) against(ctx context.Context, commit string, times int) (string, error) {
	stat, err := benchstat()
	if err != nil {
		return "", err
	}
	tree := filepath.Join(p.dir, "other")
	if err := p.git(ctx, "worktree", "add", "--quiet", "--detach", tree, commit); err != nil {
		return "", err
	}
	defer func() { _ = p.git(context.WithoutCancel(ctx), "worktree", "remove", "--force", tree) }()
	sides := []*side{{plant: *p}, {plant: *p}}
	sides[0].root = tree
	paths := []string{filepath.Join(p.dir, "other.txt"), filepath.Join(p.dir, "this.txt")}
	for _, s := range sides {
		if s.dir, err = os.MkdirTemp(p.dir, ""); err != nil {
			return "", err
		}
		if err := s.prepare(ctx); err != nil {
			return "", fmt.Errorf("%s: %w", s.root, err)
		}
	}
	for range times {
		if err := once(ctx, sides); err != nil {
			return "", err
		}
	}
	for i, s := range sides {
		if err := os.WriteFile(paths[i], s.figures.Bytes(), 0o600); err != nil {
			return "", err
		}
	}
	out, err := exec.CommandContext(ctx, stat, commit+"="+paths[0], "this="+paths[1]).CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("benchstat: %w\n%s", err, out)
	}
	return fmt.Sprintf("On %s; %s beside this tree, %d times in turns. The load is %s.\n\n%s", machine(), commit, times, load(), out), nil
}

// benchstat is where the program is that compares.
func benchstat() (string, error) {
	if path, err := exec.LookPath("benchstat"); err == nil {
		return path, nil
	}
	if out, err := exec.Command("go", "env", "GOPATH").Output(); err == nil {
		if path := filepath.Join(strings.TrimSpace(string(out)), "bin", "benchstat"); exists(path) {
			return path, nil
		}
	}
	return "", errors.New("benchstat is not at hand: go install golang.org/x/perf/cmd/benchstat@latest")
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

func (p *plant) git(ctx context.Context, args ...string) error {
	if out, err := exec.CommandContext(ctx, "git", append([]string{"-C", p.root}, args...)...).CombinedOutput(); err != nil {
		return fmt.Errorf("git %s: %w\n%s", strings.Join(args, " "), err, out)
	}
	return nil
}

// prepare builds what is measured.
func (s *side) prepare(ctx context.Context) error {
	if err := s.build(ctx); err != nil {
		return err
	}
	s.tests = map[string]string{}
	for _, c := range compared {
		pkg := s.packageOf(c.at)
		s.tests[c.name] = filepath.Join(s.dir, c.name+".test")
		build := exec.CommandContext(ctx, "go", "test", "-c", "-o", s.tests[c.name], pkg)
		build.Dir = s.root
		if out, err := build.CombinedOutput(); err != nil {
			return fmt.Errorf("build the tests of %s: %w\n%s", pkg, err, out)
		}
	}
	return nil
}

// packageOf is the first of these packages that this side has.
func (s *side) packageOf(at []string) string {
	for _, pkg := range at {
		if exists(filepath.Join(s.root, pkg)) {
			return pkg
		}
	}
	return at[0]
}

// once measures everything once on each side.
func once(ctx context.Context, sides []*side) error {
	for _, c := range compared {
		for _, s := range sides {
			run := exec.CommandContext(ctx, s.tests[c.name], append([]string{"-test.run=^$", "-test.benchmem", "-test.bench=" + c.bench}, c.args...)...)
			run.Dir = filepath.Join(s.root, s.packageOf(c.at))
			out, err := run.CombinedOutput()
			if err != nil {
				return fmt.Errorf("%s in %s: %w\n%s", c.name, s.root, err, out)
			}
			s.figures.WriteString(results(string(out)))
		}
	}
	for _, s := range sides {
		took, err := s.start(ctx)
		if err != nil {
			return err
		}
		fmt.Fprintf(&s.figures, "BenchmarkStart 1 %d ns/op\n", took.Nanoseconds())
	}
	return resting(ctx, sides)
}

// results are the lines of a benchmark's results: those that name its package
// would keep benchstat from comparing one that has moved.
func results(out string) string {
	var b strings.Builder
	for line := range strings.Lines(out) {
		if strings.HasPrefix(line, "Benchmark") && strings.Contains(line, "/op") {
			b.WriteString(line)
		}
	}
	return b.String()
}

// start is how long the daemon takes from its beginning until it tells the service
// manager that it is ready, which is after a turn in which the board obeyed: every
// output is known off by then.
func (s *side) start(ctx context.Context) (took time.Duration, err error) {
	dir, err := os.MkdirTemp(s.dir, "")
	if err != nil {
		return 0, err
	}
	manager, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(dir, "notify"), Net: "unixgram"})
	if err != nil {
		return 0, err
	}
	defer manager.Close()
	c := exec.CommandContext(ctx, s.program, "run", "--listen", "127.0.0.1:0", "--state", filepath.Join(dir, "state"))
	c.Dir, c.Env = dir, append(os.Environ(), "NOTIFY_SOCKET="+manager.LocalAddr().String())
	begun := time.Now()
	if err := c.Start(); err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, (&watched{Cmd: c}).end()) }()
	_ = manager.SetReadDeadline(begun.Add(time.Minute))
	for said := make([]byte, 4096); ; {
		n, err := manager.Read(said)
		if err != nil {
			return 0, fmt.Errorf("the daemon never said that it is ready: %w", err)
		}
		if strings.Contains(string(said[:n]), "READY=1") {
			return time.Since(begun), nil
		}
	}
}

// resting has the daemon of each side rest beside the other's.
func resting(ctx context.Context, sides []*side) error {
	var all []*watched
	for _, s := range sides {
		state, err := os.MkdirTemp(s.dir, "")
		if err != nil {
			return err
		}
		w, err := s.begin(ctx, s.program, "run", "--listen", "127.0.0.1:0", "--state", state)
		if err != nil {
			return err
		}
		defer func() { _ = w.end() }()
		all = append(all, w)
	}
	if err := scrapeFor(ctx, all, sides[0].rest); err != nil {
		return err
	}
	for i, w := range all {
		mebibytes, err := w.resident()
		if err != nil {
			return err
		}
		fmt.Fprintf(&sides[i].figures, "BenchmarkResident 1 %.1f MiB\n", mebibytes)
	}
	return nil
}
