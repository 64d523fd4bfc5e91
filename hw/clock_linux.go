package hw

import (
	"time"

	"golang.org/x/sys/unix"
)

func systemMachine() machine {
	return machine{
		boot:         sinceBoot,
		wall:         time.Now,
		synchronised: kernelSynchronised,
		chip:         func() bool { return chipPresent("/") },
	}
}

// sinceBoot reads CLOCK_BOOTTIME, which every kernel since 2.6.39 has.
func sinceBoot() time.Duration {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts); err != nil {
		panic("read the boot-time clock: " + err.Error())
	}
	return time.Duration(ts.Nano())
}

// kernelSynchronised asks adjtimex(2), which needs no privilege to read. A
// kernel that refuses to answer counts as not synchronised.
func kernelSynchronised() bool {
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	return err == nil && synchronised(state, t.Status)
}

// synchronised reads the answer of adjtimex(2): the flag alone is not enough,
// since the state is TIME_ERROR too when a reference has failed.
func synchronised(state int, status int32) bool {
	return state != unix.TIME_ERROR && status&(unix.STA_UNSYNC|unix.STA_CLOCKERR) == 0
}
