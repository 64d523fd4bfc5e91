package ledger

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Backup writes a copy of the ledger as of now to path, while it is in use.
// The copy is a ledger of its own: put into a state directory as ledger.db it
// is gone on from. A file that is already there is an error.
func (l *Ledger) Backup(ctx context.Context, path string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("back the ledger up to %q: %w", path, err)
		}
	}()
	if exists(path) {
		return errors.New("the file exists; name another one")
	}
	_ = l.Flush(ctx) // on failing storage a copy of what is there is all the more wanted
	part := path + ".part"
	if err := discard(part); err != nil {
		return err
	}
	if _, err := l.reader.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return errors.Join(err, discard(part))
	}
	if err := syncFile(part); err != nil {
		return errors.Join(err, discard(part))
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	return syncDir(filepath.Clean(path))
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
