package hw

import (
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

func systemMachine() machine {
	a := &alarm{}
	return machine{
		boot:         sinceBoot,
		wall:         time.Now,
		synchronised: kernelSynchronised,
		chip:         func() bool { return chipPresent("/") },
		wait:         a.wait,
	}
}

// sinceBoot reads CLOCK_BOOTTIME, which every kernel since 2.6.39 has.
// The kernel answers at once, so that the runtime need not be told of the call,
// which would rouse the thread that looks after threads that block.
func sinceBoot() time.Duration {
	var ts unix.Timespec
	if _, _, errno := unix.RawSyscall(unix.SYS_CLOCK_GETTIME, unix.CLOCK_BOOTTIME, uintptr(unsafe.Pointer(&ts)), 0); errno != 0 {
		panic("read the boot-time clock: " + errno.Error())
	}
	return time.Duration(ts.Nano())
}

// kernelSynchronised asks adjtimex(2), which needs no privilege to read. A
// kernel that refuses to answer counts as not synchronised.
func kernelSynchronised() bool {
	var t unix.Timex
	state, _, errno := unix.RawSyscall(unix.SYS_ADJTIMEX, uintptr(unsafe.Pointer(&t)), 0, 0)
	return errno == 0 && synchronised(int(state), t.Status)
}

// synchronised reads the answer of adjtimex(2): the flag alone is not enough,
// since the state is TIME_ERROR too when a reference has failed.
func synchronised(state int, status int32) bool {
	return state != unix.TIME_ERROR && status&(unix.STA_UNSYNC|unix.STA_CLOCKERR) == 0
}
