package cli

import (
	"bufio"
	"errors"
	"io"
	"os"
	"path/filepath"
)

// WriteFile writes a file that somebody named, whole or with a UsageError.
func WriteFile(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return Usagef("write %q: %w; name a file in a directory that can be written", path, err)
	}
	b := bufio.NewWriter(f)
	if err := errors.Join(write(b), b.Flush(), f.Close()); err != nil {
		return Usagef("write %q: %w", path, err)
	}
	return nil
}

// ReplaceFile puts data in place of what a file of the program's own held. A power
// cut leaves the one or the other, whole.
func ReplaceFile(path string, data []byte) error {
	part := path + ".new"
	f, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o640)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(dir.Sync(), dir.Close())
}
