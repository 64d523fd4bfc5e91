package main

import (
	"bufio"
	"errors"
	"io"
	"os"
)

// writeFile writes a file that somebody named, whole or with an error.
func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return usagef("write %q: %w; name a file in a directory that can be written", path, err)
	}
	b := bufio.NewWriter(f)
	if err := errors.Join(write(b), b.Flush(), f.Close()); err != nil {
		return usagef("write %q: %w", path, err)
	}
	return nil
}
