//go:build killtest && linux && amd64

package killtest

import (
	"bytes"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// card is what a memory card would still have of the ledger's files after a
// power cut.
type card struct {
	dir     string
	durable map[string][]byte // by name; content as of its last sync
}

// sector is what a card writes whole.
const sector = 512

// cardOf is a card on which everything in dir is safe.
func cardOf(dir string) (*card, error) {
	c := &card{dir: dir, durable: map[string][]byte{}}
	for _, name := range []string{"ledger.db", "ledger.db-wal"} {
		if err := c.sync(name); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// sync makes a file's present content safe.
func (c *card) sync(name string) error {
	data, err := os.ReadFile(filepath.Join(c.dir, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	c.durable[name] = data
	return err
}

// cut takes the power away: of what was not synced each sector is there or not.
func (c *card) cut(chance *rand.Rand) error {
	for _, name := range []string{"ledger.db", "ledger.db-wal"} {
		path := filepath.Join(c.dir, name)
		now, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		if err := os.WriteFile(path, mixed(c.durable[name], now, chance), 0o640); err != nil {
			return err
		}
	}
	return os.RemoveAll(filepath.Join(c.dir, "ledger.db-shm"))
}

// mixed is old with some sectors of now.
func mixed(old, now []byte, chance *rand.Rand) []byte {
	kept := bytes.Clone(old)
	for at := 0; at < len(now); at += sector {
		end := min(at+sector, len(now))
		if at < len(old) && bytes.Equal(now[at:end], old[at:min(end, len(old))]) || chance.IntN(2) == 0 {
			continue
		}
		if len(kept) < end {
			kept = append(kept, make([]byte, end-len(kept))...)
		}
		copy(kept[at:end], now[at:end])
	}
	return kept
}
