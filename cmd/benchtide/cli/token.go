package cli

import (
	"os"
	"strings"
)

// SocketName is what the commands' socket is called in its directory.
const SocketName = "benchtide.sock"

// leastToken is as long as a guesser who is slowed down never finds.
const leastToken = 16

// ReadToken reads a token; of no path it is empty. A UsageError says how to make
// one.
func ReadToken(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	const remedy = `make one with: (umask 077; head -c 24 /dev/urandom | base64 > FILE)`
	info, err := os.Stat(path)
	if err != nil {
		return "", Usagef("read the token: %w; %s", err, remedy)
	}
	if info.Mode().Perm()&0o007 != 0 {
		return "", Usagef("the token file %q is for everybody on this machine to read: chmod o= %s", path, path)
	}
	data, err := ReadFile(path, "the token")
	if err != nil {
		return "", err
	}
	token := strings.TrimSpace(string(data))
	if len(token) < leastToken || strings.ContainsAny(token, " \t\r\n") {
		return "", Usagef("the token in %q has to be one word of at least %d characters; %s", path, leastToken, remedy)
	}
	return token, nil
}
