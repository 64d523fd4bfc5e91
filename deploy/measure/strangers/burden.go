package strangers

import (
	"context"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Burden is what many connections of a kind did to a process, in bytes of
// resident memory.
type Burden struct {
	Kind                  string
	Before, Most, After   int
	Opened, Refused, Held int // connections: held are those not cut at the end, some of which only the kernel has accepted
}

// More is how much more memory there was at most.
func (b Burden) More() int { return b.Most - b.Before }

func (b Burden) String() string {
	const mib = 1 << 20
	return fmt.Sprintf("%-50s %5d opened, %3d held: %5.1f MiB before, %5.1f at most, %5.1f after (%+.1f)", b.Kind, b.Opened, b.Held,
		float64(b.Before)/mib, float64(b.Most)/mib, float64(b.After)/mib, float64(b.More())/mib)
}

// at is how many are opened at the same time.
const at = 128

// On opens n connections of a kind to an address of the process, does something
// while they are there, and lets them go.
func On(ctx context.Context, pid int, address string, k Kind, n int, meanwhile func()) (b Burden, err error) {
	b.Kind = k.Name
	if b.Before, _, err = Memory(pid); err != nil {
		return b, err
	}
	if err := forgetMost(pid); err != nil {
		return b, err
	}
	conns := open(ctx, address, k, n, &b)
	meanwhile()
	for _, c := range conns {
		if alive(c) {
			b.Held++
		}
	}
	if _, b.Most, err = Memory(pid); err != nil {
		return b, err
	}
	for _, c := range conns {
		_ = c.Close()
	}
	b.After, _, err = Memory(pid)
	return b, err
}

// open opens the connections and does with each what its kind does.
func open(ctx context.Context, address string, k Kind, n int, b *Burden) (conns []net.Conn) {
	var mu sync.Mutex
	var all sync.WaitGroup
	turn := make(chan struct{}, at)
	for range n {
		turn <- struct{}{}
		all.Go(func() {
			defer func() { <-turn }()
			c, err := (&net.Dialer{Timeout: patience}).DialContext(ctx, "tcp", address)
			mu.Lock()
			if err != nil {
				b.Refused++
				mu.Unlock()
				return
			}
			b.Opened++
			conns = append(conns, c)
			mu.Unlock()
			_ = k.Do(c) // that it was cut is what it is for
		})
	}
	all.Wait()
	return conns
}

// alive reports whether a server still holds a connection.
func alive(c net.Conn) bool {
	_ = c.SetReadDeadline(time.Now().Add(time.Millisecond))
	for said := make([]byte, 64<<10); ; {
		if _, err := c.Read(said); err != nil {
			late, ok := err.(net.Error)
			return ok && late.Timeout()
		}
	}
}

// Memory is what a process has resident, and had at most since that was last
// forgotten.
func Memory(pid int) (now, most int, err error) {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, 0, err
	}
	read := func(key string) int {
		_, rest, _ := strings.Cut(string(data), "\n"+key+":")
		fields := strings.Fields(rest)
		if len(fields) == 0 {
			return 0
		}
		kib, _ := strconv.Atoi(fields[0]) // the kernel's own
		return kib << 10
	}
	return read("VmRSS"), read("VmHWM"), nil
}

// forgetMost has the kernel begin anew to note how much a process has at most.
func forgetMost(pid int) error {
	return os.WriteFile(fmt.Sprintf("/proc/%d/clear_refs", pid), []byte("5"), 0o200)
}
