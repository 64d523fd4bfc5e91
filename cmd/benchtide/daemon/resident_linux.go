package daemon

import (
	"bufio"
	"fmt"
	"os"
	"runtime/debug"
	"strings"

	"golang.org/x/sys/unix"
)

// giveBack returns memory that only the start needed: the pages of the program's
// own file that its many packages touched once, and what the collector holds.
// Nothing is lost with them; a page that is wanted again is mapped again.
func giveBack() {
	debug.FreeOSMemory()
	self, err := os.Readlink("/proc/self/exe")
	if err != nil {
		return
	}
	maps, err := os.Open("/proc/self/maps")
	if err != nil {
		return
	}
	defer maps.Close()
	for s := bufio.NewScanner(maps); s.Scan(); {
		var from, to uintptr
		var may string
		if _, err := fmt.Sscanf(s.Text(), "%x-%x %s", &from, &to, &may); err != nil || may[1] == 'w' || !strings.HasSuffix(s.Text(), " "+self) {
			continue
		}
		_, _, _ = unix.Syscall(unix.SYS_MADVISE, from, to-from, unix.MADV_DONTNEED) // memory that stays is no harm
	}
}
