package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
)

// figure is what became of one number that was made 3 % more and less.
type figure struct {
	more, less bool // noticed by a test
	moves      float64
	which      string // the figure of an answer that it moves most
}

// weighFigures tries every number of a package and writes a section of
// deploy/CONSTANTS.md: how many that move an answer by more than 1 % are noticed,
// and those that are not.
func weighFigures(w io.Writer, dirs []string, work string, changes []change) error {
	overlay := filepath.Join(work, "overlay.json")
	rows, err := newRows(dirs, work, overlay)
	if err != nil {
		return err
	}
	p, err := newProgram(overlay, work, *ask)
	if err != nil {
		return err
	}
	all := make([]figure, len(changes))
	next := make(chan int)
	var hands sync.WaitGroup
	// Each is asked of the tests and of the program.
	for range *workers {
		hands.Go(func() {
			for i := range next {
				f := figure{more: !rows.hold(changes[i].n), less: !rows.hold(-changes[i].n)}
				f.moves, f.which = p.moves(changes[i].n)
				all[i] = f
			}
		})
	}
	for i := range changes {
		next <- i
	}
	close(next)
	hands.Wait()

	var moving, noticed, any int
	for _, f := range all {
		if f.more && f.less {
			any++
		}
		if f.moves > 0.01 {
			moving++
			if f.more && f.less {
				noticed++
			}
		}
	}
	fmt.Fprintf(w, "## %s\n\n%d numbers, %d noticed both ways. %d move an answer by more than 1 %%; %d of these are noticed both ways.\n", dirs[0], len(changes), any, moving, noticed)
	if moving > noticed {
		fmt.Fprint(w, "\n| where | number | in | noticed | moves | most |\n|---|---|---|---|---|---|\n")
	}
	for i, c := range changes {
		f := all[i]
		if f.more && f.less || f.moves <= 0.01 {
			continue
		}
		by := map[[2]bool]string{{false, false}: "no", {true, false}: "3 % more", {false, true}: "3 % less"}[[2]bool{f.more, f.less}]
		number, _, _ := strings.Cut(c.what, " → ")
		fmt.Fprintf(w, "| %s:%d | `%s` | `%s` | %s | %.1f %% | %s |\n", filepath.Base(c.file), c.line, cell(number), cell(c.text), by, 100*f.moves, f.which)
	}
	return nil
}

// rows are the tests of published values of some packages, with every change in them.
type rows struct{ dirs, bins []string }

// newRows builds them, and fails where they do without a change.
func newRows(dirs []string, work, overlay string) (*rows, error) {
	r := &rows{dirs: dirs}
	for i, dir := range dirs {
		r.bins = append(r.bins, filepath.Join(work, fmt.Sprint("rows", i)))
		build := exec.Command("go", "test", "-c", "-overlay", overlay, "-o", r.bins[i], "./"+dir)
		build.Stderr = os.Stderr
		if err := build.Run(); err != nil {
			return nil, fmt.Errorf("build the tests of %s: %w", dir, err)
		}
	}
	if !r.hold(0) {
		return nil, fmt.Errorf("the tests of %s fail without a change", strings.Join(dirs, " or "))
	}
	return r, nil
}

// hold reports whether every row passes with change n.
func (r *rows) hold(n int) bool {
	for i, bin := range r.bins {
		c := exec.Command(bin, "-test.failfast", "-test.timeout=2m", "-test.run="+*tests)
		c.Dir, c.Env = r.dirs[i], append(os.Environ(), fmt.Sprint("MUTANT=", n))
		if c.Run() != nil {
			return false
		}
	}
	return true
}
