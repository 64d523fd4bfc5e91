// Package cost tells benchmarks how much processor time they took, which other
// programs on the machine change less than they change time by the clock.
// deploy/measure reads what it reports. Only tests use it.
package cost

import (
	"syscall"
	"testing"
	"time"
)

// Used is the processor time of this process so far.
func Used() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u) // of oneself it never fails
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// Report reports what each turn of b took since begun, as cpu-ns/op.
func Report(b *testing.B, begun time.Duration) {
	b.ReportMetric(float64(Used()-begun)/float64(b.N), "cpu-ns/op")
}
