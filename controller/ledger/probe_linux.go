package ledger

import (
	"fmt"
	"syscall"
)

// leastRoom is less than a day of floods needs.
const leastRoom = 256 << 10

const (
	writeAccess = 2 // W_OK of access(2)
	readOnly    = 1 // ST_RDONLY of statfs(2)
)

// roomIn says why dir would not take new data; nil when it would.
func roomIn(dir string) error {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil {
		return fmt.Errorf("look at the storage of %q: %w", dir, err)
	}
	if fs.Flags&readOnly != 0 {
		return fmt.Errorf("the storage of %q is read-only", dir)
	}
	if err := syscall.Access(dir, writeAccess); err != nil {
		return fmt.Errorf("the state directory %q takes no new files: %w", dir, err)
	}
	if room := fs.Bavail * uint64(fs.Bsize); room < leastRoom {
		return fmt.Errorf("the storage of %q is full: %d KiB are left", dir, room>>10)
	}
	return nil
}
