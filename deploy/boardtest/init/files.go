//go:build boardtest && linux

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"
)

// doFiles does one thing a line with the kernel's files. Module parameters, and
// what is written, are the rest of their line.
func doFiles(data string) error {
	for line := range strings.Lines(data) {
		if err := doFile(strings.TrimSpace(line)); err != nil {
			return fmt.Errorf("%s: %w", strings.TrimSpace(line), err)
		}
	}
	return nil
}

func doFile(line string) error {
	verb, rest, _ := strings.Cut(line, " ")
	name, text, _ := strings.Cut(rest, " ")
	switch verb {
	case "":
		return nil
	case "insert":
		return insertWith(filepath.Join("/modules", name+".ko"), text)
	case "mount":
		if err := os.MkdirAll(text, 0o755); err != nil {
			return err
		}
		return unix.Mount(name, text, name, 0, "")
	case "mkdir":
		return os.MkdirAll(name, 0o755)
	case "rmdir":
		return unix.Rmdir(name)
	case "write":
		return write(name, text)
	case "pull":
		return pull(name, text)
	case "poke":
		return poke(name, text)
	case "made", "unmade":
		return makeHigh(name, verb == "made")
	case "hold", "free":
		return hold(name, verb == "hold")
	}
	return fmt.Errorf("cannot do that with files")
}

// write writes a file that is there.
func write(name, text string) error {
	f, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

func insertWith(path, parameters string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return unix.FinitModule(int(f.Fd()), parameters, 0)
}
