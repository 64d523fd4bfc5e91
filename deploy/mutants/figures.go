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

// errors are by which shares a number is changed, the first for every one.
var errors = []float64{0.03, 0.06, 0.12, 0.25, 0.5}

// figure is what became of one number that was made 3 % more and less.
type figure struct {
	more, less bool // noticed by a test
	moves      float64
	which      string  // the figure of an answer that it moves most
	from       float64 // the least of errors at which both are noticed; 0 where none is
}

// weigh tries number n.
func weigh(n int, rows *rows, p *program) figure {
	f := figure{more: !rows.hold(n, errors[0]), less: !rows.hold(-n, errors[0])}
	f.moves, f.which = p.moves(n)
	for _, by := range errors {
		if f.decides() && !rows.hold(n, by) && !rows.hold(-n, by) {
			f.from = by
			break
		}
	}
	return f
}

// decides reports whether a number moves an answer by more than 1 %.
func (f figure) decides() bool { return f.moves > 0.01 }

// weighFigures tries every number of a package and writes a section of
// deploy/CONSTANTS.md. Without says which numbers have no source.
func weighFigures(w io.Writer, dirs []string, work string, changes []change, without []rule) error {
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
				all[i] = weigh(changes[i].n, rows, p)
			}
		})
	}
	for i := range changes {
		next <- i
	}
	close(next)
	hands.Wait()

	return (&weighed{dirs[0], changes, all}).write(w, without)
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
	if !r.hold(0, 0) {
		return nil, fmt.Errorf("the tests of %s fail without a change", strings.Join(dirs, " or "))
	}
	return r, nil
}

// hold reports whether every row passes with change n by that share.
func (r *rows) hold(n int, by float64) bool {
	for i, bin := range r.bins {
		c := exec.Command(bin, "-test.failfast", "-test.timeout=2m", "-test.run="+*tests)
		c.Dir, c.Env = r.dirs[i], append(os.Environ(), fmt.Sprint("MUTANT=", n), fmt.Sprint("MUTANT_BY=", by))
		if c.Run() != nil {
			return false
		}
	}
	return true
}
