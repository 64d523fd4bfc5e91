//go:build linux

package ledger

import (
	"flag"
	"os"
	"syscall"
	"testing"
)

// inMemory is where Linux has a file system in memory, roomy how much room these
// tests want there.
const (
	inMemory = "/dev/shm"
	roomy    = 256 << 20
)

// TestMain has the files of the tests lie in memory where there is room. They
// sync thousands of times, and none of them can tell a file that was synced from
// one that was not: deaths are tried on copies of what the program wrote, power
// cuts by deploy/killtest. Benchmarks are of storage.
func TestMain(m *testing.M) {
	flag.Parse()
	var fs syscall.Statfs_t
	if os.Getenv("TMPDIR") != "" || flag.Lookup("test.bench").Value.String() != "" ||
		syscall.Statfs(inMemory, &fs) != nil || fs.Bavail*uint64(fs.Bsize) < roomy {
		os.Exit(m.Run())
	}
	dir, err := os.MkdirTemp(inMemory, "benchtide-ledger-")
	if err == nil {
		err = os.Setenv("TMPDIR", dir)
	}
	if err != nil {
		os.Exit(m.Run())
	}
	failed := m.Run()
	_ = os.RemoveAll(dir)
	os.Exit(failed)
}
