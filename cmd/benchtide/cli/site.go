package cli

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"benchtide/controller/config"
)

// SiteFile is the flag that names the site's file.
type SiteFile struct {
	Config string `short:"c" placeholder:"FILE" help:"The site's file, - for standard input. Without it ./bench.yaml, else the built-in example."`
}

// The names of files that are read where none is given, and the most that is read
// of one.
const (
	UsualFile   = "bench.yaml"
	ExampleName = "example.yaml"
	DataLimit   = 1 << 20 // bytes of a file; a site of 32 benches takes 20 KiB
)

// Read returns the file and its name, and says on the way which one it took when
// none was named. Errors are UsageErrors.
func (f SiteFile) Read(s *Session) (name string, data []byte, err error) {
	if f.Config == "-" {
		data, err = readLimited("standard input", s.In)
		return "standard input", data, err
	}
	if f.Config != "" {
		data, err = ReadFile(f.Config, "the site's file")
		return f.Config, data, err
	}
	if _, err := os.Stat(UsualFile); errors.Is(err, fs.ErrNotExist) {
		s.Notice("No -c FILE and no ./%s: using the built-in example.", UsualFile)
		return ExampleName, config.Example, nil
	}
	s.Notice("No -c FILE: using ./%s.", UsualFile)
	data, err = ReadFile(UsualFile, "the site's file")
	return UsualFile, data, err
}

// ReadFile reads the whole of a file that somebody named; what says what it is, for
// the UsageError of one that cannot be read or is longer than DataLimit.
func ReadFile(path, what string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, Usagef("read %s: %w; give the path of a file that can be read", what, err)
	}
	defer file.Close()
	return readLimited(path, file)
}

func readLimited(name string, r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, DataLimit+1))
	switch {
	case err != nil:
		return nil, Usagef("read %q: %w", name, err)
	case len(data) > DataLimit:
		return nil, Usagef("read %q: it is longer than %d KiB, so it is no file of this program", name, DataLimit>>10)
	}
	return data, nil
}

// Load returns the site of the file and the warnings about it; the error, which may
// be config.Problems, carries all that is wrong.
func (f SiteFile) Load(s *Session) (*config.Site, config.Problems, error) {
	name, data, err := f.Read(s)
	if err != nil {
		return nil, nil, err
	}
	site, problems := ParseSite(name, data)
	return site, problems.Warnings(), problems.Err()
}

// ParseSite reads a file's text; what it names beside itself is found there.
func ParseSite(name string, data []byte) (*config.Site, config.Problems) {
	site, problems := config.Parse(name, data)
	if site != nil && site.Records != "" && !filepath.IsAbs(site.Records) {
		site.Records = filepath.Join(filepath.Dir(name), site.Records)
	}
	return site, problems
}
