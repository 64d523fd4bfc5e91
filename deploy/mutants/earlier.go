package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"sync"
)

// earlier is which test noticed a change in earlier runs, kept in a file: that one
// is asked first, so that a second run is a quick one.
type earlier struct {
	sync.Mutex
	file *os.File // nil where nobody keeps it
	test map[string]string
}

// readEarlier reads the file of a name; without one nothing is known or kept.
func readEarlier(name string) (*earlier, error) {
	e := &earlier{test: map[string]string{}}
	if name == "" {
		return e, nil
	}
	text, err := os.ReadFile(name)
	if err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	for line := range strings.Lines(string(text)) {
		if key, test, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "\t\t"); ok {
			e.test[key] = test
		}
	}
	e.file, err = os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	return e, err
}

// of is the test of a package that noticed a change; empty where none is known.
func (e *earlier) of(dir string, c *change) string {
	e.Lock()
	defer e.Unlock()
	return e.test[dir+"\t"+c.key()]
}

// failed is how a test that failed, or that was under way when its time was up, is
// named in the output.
var failed = regexp.MustCompile(`(?m)^(?:--- FAIL: |benchtide/\S+\.)(Test\w+)\b`)

// note keeps which test of a package noticed a change, as its output says.
func (e *earlier) note(dir string, c *change, out []byte) {
	name := failed.FindSubmatch(out)
	if e.file == nil || name == nil || string(name[1]) == e.of(dir, c) {
		return
	}
	e.Lock()
	defer e.Unlock()
	e.test[dir+"\t"+c.key()] = string(name[1])
	fmt.Fprintf(e.file, "%s\t%s\t\t%s\n", dir, c.key(), name[1])
}
