//go:build !linux

package hw

import "time"

// systemMachine serves machines without a boot-time clock of their own to
// read. They run simulated benches only; their owners keep them on time.
func systemMachine() machine {
	start := time.Now()
	return machine{
		boot:         func() time.Duration { return time.Since(start) },
		wall:         time.Now,
		synchronised: func() bool { return true },
		chip:         func() bool { return false },
	}
}
