package notify

import (
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"benchtide/controller/config/address"
)

// Secret is a value that stands in a file of its own, so that neither the
// site's file nor a log holds it. It is read anew whenever it is used, so a
// file that comes late, or changes, needs no restart. The zero Secret is none.
type Secret struct{ Path string }

// secretLimit is more than any password, key or address takes.
const secretLimit = 4096

// Resolve finds the file of a reference: as it is when it is absolute, else
// the service manager's credential of that name where there is one, else
// beside the site's file.
func Resolve(reference, besides string) Secret {
	if reference == "" || filepath.IsAbs(reference) {
		return Secret{reference}
	}
	if dir := os.Getenv("CREDENTIALS_DIRECTORY"); dir != "" {
		path := filepath.Join(dir, reference)
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			return Secret{path}
		}
	}
	return Secret{filepath.Join(besides, reference)}
}

// Value reads the secret, without the line's end.
func (s Secret) Value() (string, error) {
	if s.Path == "" {
		return "", nil
	}
	data, err := os.ReadFile(s.Path)
	switch {
	case err != nil:
		return "", fmt.Errorf("read the secret: %w; put it into that file, readable for the daemon's user alone", err)
	case len(data) > secretLimit:
		return "", fmt.Errorf("read the secret %q: it is longer than %d bytes, so it is none", s.Path, secretLimit)
	}
	text := strings.TrimRight(string(data), "\r\n")
	if text == "" {
		return "", fmt.Errorf("read the secret %q: the file is empty", s.Path)
	}
	return text, nil
}

// withoutURL is the error of a request without its address, which may hold a
// key.
func withoutURL(err error) error {
	if u, ok := errors.AsType[*url.Error](err); ok {
		return u.Err
	}
	return err
}

// addressOf is where to call: what stands in a file of its own, where there is
// one, else the plain address. It is one that may be used.
func addressOf(secret Secret, plain string) (string, error) {
	to := plain
	if secret.Path != "" {
		var err error
		if to, err = secret.Value(); err != nil {
			return "", err
		}
	}
	return to, address.CheckURL(to)
}
