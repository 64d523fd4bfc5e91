package main

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// trial is the tests of some packages with every change in them.
type trial struct {
	dirs    []string
	work    string
	flags   [][]string // for each
	tests   [][]test   // of each, quick ones first
	earlier *earlier
}

// test is one test of a package as it runs without a change.
type test struct {
	name    string
	takes   time.Duration   // of a processor
	reaches map[string]bool // the changes that would have made a difference where they stand, by number
}

// Tests that a change has not end are stopped after so many times what they take
// of a processor without it, and no sooner than after leastPatience: a machine that
// is busy with something else takes no time of theirs. Those that wait for nothing
// take none; they get longest.
const (
	patience      = 5
	leastPatience = 10 * time.Second
	longest       = 5 * time.Minute
	mostMemory    = 4 << 20 // KiB, of addresses
)

// quick is how long the first tests that a change is given to take together.
const quick = 300 * time.Millisecond

// bin is the tests of package i.
func (t *trial) bin(i int) string { return filepath.Join(t.work, fmt.Sprint("tests", i)) }

func (t *trial) build(overlay string) error {
	for i, dir := range t.dirs {
		build := exec.Command("go", "test", "-c", "-overlay", overlay, "-o", t.bin(i), "./"+dir)
		build.Stdout, build.Stderr = os.Stderr, os.Stderr
		if err := build.Run(); err != nil {
			return fmt.Errorf("build the tests of %s: %w", dir, err)
		}
		t.flags = append(t.flags, flagsOf(t.bin(i)))
		tests, err := t.list(i)
		if err != nil {
			return err
		}
		t.tests = append(t.tests, tests)
	}
	return nil
}

// flagsOf are the flags that tests are run with: they end at the first failure,
// and one that chance found is not kept.
func flagsOf(tests string) []string {
	flags := []string{"-test.failfast"}
	const nothingKept = "-rapid.nofailfile"
	if help, _ := exec.Command(tests, "-help").CombinedOutput(); bytes.Contains(help, []byte(nothingKept)) { // -help ends with an error
		flags = append(flags, nothingKept)
	}
	return flags
}

// list runs each test of package i by itself without a change.
func (t *trial) list(i int) ([]test, error) {
	c := exec.Command(t.bin(i), "-test.list", "^(Test|Fuzz|Example)")
	c.Dir = t.dirs[i]
	names, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("list the tests of %s: %w", t.dirs[i], err)
	}
	var tests []test
	reached := filepath.Join(t.work, "reached")
	for _, name := range strings.Fields(string(names)) {
		one := test{name: name, takes: longest, reaches: map[string]bool{}}
		out, takes, passed := t.try(i, 0, []test{one}, "MUTANT_REACHED="+reached)
		if !passed {
			return nil, fmt.Errorf("%s of %s fails without a change: %s", name, t.dirs[i], out)
		}
		numbers, err := os.ReadFile(reached)
		if err != nil {
			return nil, err
		}
		one.takes = takes
		for _, n := range strings.Fields(string(numbers)) {
			one.reaches[n] = true
		}
		tests = append(tests, one)
	}
	slices.SortStableFunc(tests, func(a, b test) int { return cmp.Compare(a.takes, b.takes) })
	return tests, nil
}

// reaching are the tests of package i in which change n makes a difference where
// it stands, the quick ones by themselves. No other can notice it.
func (t *trial) reaching(i, n int) (groups [][]test) {
	var first, rest []test
	var sum time.Duration
	for _, one := range t.tests[i] {
		if !one.reaches[fmt.Sprint(n)] {
			continue
		}
		if sum += one.takes; sum <= quick {
			first = append(first, one)
		} else {
			rest = append(rest, one)
		}
	}
	return slices.DeleteFunc([][]test{first, rest}, func(g []test) bool { return len(g) == 0 })
}

// try runs tests of package i with change n, and says what they took of a
// processor. Tests that do not end have noticed it.
func (t *trial) try(i, n int, tests []test, env ...string) (out []byte, takes time.Duration, passed bool) {
	var names []string
	for _, one := range tests {
		names, takes = append(names, one.name), takes+one.takes
	}
	ctx, stop := context.WithTimeout(context.Background(), longest)
	defer stop()
	limits := fmt.Sprintf(`ulimit -t %.0f; ulimit -v %d; exec "$0" "$@"`, max(leastPatience, patience*takes).Seconds(), mostMemory)
	c := exec.CommandContext(ctx, "sh", append([]string{"-c", limits, t.bin(i), "-test.run", "^(" + strings.Join(names, "|") + ")$"}, t.flags[i]...)...)
	c.Dir, c.Env = t.dirs[i], append(append(os.Environ(), fmt.Sprint("MUTANT=", n)), env...)
	out, err := c.CombinedOutput()
	if ctx.Err() != nil || bytes.Contains(out, []byte("SIGXCPU")) {
		fmt.Fprintf(os.Stderr, "%s: change %d does not end\n", t.dirs[i], n)
	}
	return out, c.ProcessState.UserTime() + c.ProcessState.SystemTime(), err == nil
}

// nobody stands for the package whose tests noticed a change that none did.
const nobody = -1

// by is the first package whose tests notice a change. The test that noticed it
// in an earlier run is asked first.
func (t *trial) by(c *change) int {
	for i, dir := range t.dirs {
		groups := t.reaching(i, c.n)
		for _, one := range slices.Concat(groups...) {
			if one.name == t.earlier.of(dir, c) {
				groups = slices.Insert(groups, 0, []test{one})
			}
		}
		for _, tests := range groups {
			if out, _, passed := t.try(i, c.n, tests); !passed {
				t.earlier.note(dir, c, out)
				return i
			}
		}
	}
	return nobody
}

// noticed says of each change by the tests of which package it was noticed.
func (t *trial) noticed(changes []change) []int {
	by := make([]int, len(changes))
	next := make(chan int)
	var all sync.WaitGroup
	for range *workers {
		all.Go(func() {
			for i := range next {
				by[i] = t.by(&changes[i])
			}
		})
	}
	for i := range changes {
		next <- i
		if i%50 == 49 {
			fmt.Fprintf(os.Stderr, "%s: %d of %d tried\n", t.dirs[0], i+1, len(changes))
		}
	}
	close(next)
	all.Wait()
	return by
}
