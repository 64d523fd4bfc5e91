package main

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"benchtide/controller/config"
)

// siteFile is the flag that names the site's file.
type siteFile struct {
	Config string `short:"c" placeholder:"FILE" help:"The site's file, - for standard input. Without it ./bench.yaml, else the built-in example."`
}

const (
	usualFile   = "bench.yaml"
	exampleName = "example.yaml"
	dataLimit   = 1 << 20 // bytes of a file; a site of 32 benches takes 20 KiB
)

// read returns the file and its name, and says on the way which one it took
// when none was named.
func (f siteFile) read(s *session) (name string, data []byte, err error) {
	if f.Config == "-" {
		data, err = readLimited("standard input", s.in)
		return "standard input", data, err
	}
	if f.Config != "" {
		data, err = readFile(f.Config, "the site's file")
		return f.Config, data, err
	}
	if _, err := os.Stat(usualFile); errors.Is(err, fs.ErrNotExist) {
		s.notice("No -c FILE and no ./%s: using the built-in example.", usualFile)
		return exampleName, config.Example, nil
	}
	s.notice("No -c FILE: using ./%s.", usualFile)
	data, err = readFile(usualFile, "the site's file")
	return usualFile, data, err
}

// readFile reads the whole of a file that somebody named.
func readFile(path, what string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, usagef("read %s: %w; give the path of a file that can be read", what, err)
	}
	defer file.Close()
	return readLimited(path, file)
}

func readLimited(name string, r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, dataLimit+1))
	switch {
	case err != nil:
		return nil, usagef("read %q: %w", name, err)
	case len(data) > dataLimit:
		return nil, usagef("read %q: it is longer than %d KiB, so it is no file of this program", name, dataLimit>>10)
	}
	return data, nil
}

// load returns the site of the file and the warnings about it; the error
// carries all that is wrong.
func (f siteFile) load(s *session) (*config.Site, config.Problems, error) {
	name, data, err := f.read(s)
	if err != nil {
		return nil, nil, err
	}
	site, problems := parseSite(name, data)
	return site, problems.Warnings(), problems.Err()
}

// parseSite reads a file's text; what it names beside itself is found there.
func parseSite(name string, data []byte) (*config.Site, config.Problems) {
	site, problems := config.Parse(name, data)
	if site != nil && site.Records != "" && !filepath.IsAbs(site.Records) {
		site.Records = filepath.Join(filepath.Dir(name), site.Records)
	}
	return site, problems
}
