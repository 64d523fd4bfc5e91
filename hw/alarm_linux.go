package hw

import (
	"context"
	"os"
	"sync"
	"syscall"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// alarm ends waits by a timer of the kernel's that runs on the boot-time clock.
// A timer of the runtime's would do, but costs a daemon at rest twice as much:
// at each of its four turns a second, the runtime rouses a thread to watch over
// the next timer and one to look after both. It would also stand still while
// the machine sleeps; this one is due as soon as the machine wakes.
type alarm struct {
	open sync.Once
	file *os.File // nil where the kernel has no timer to give
	raw  syscall.RawConn

	waiting sync.Mutex // by whoever has set it
	rings   chan struct{}
}

// wait returns when the boot-time clock reaches until, when wake delivers, or
// when ctx ends; it may also return for nothing. It reports whether wake
// delivered, and !set when there is no such timer at hand, which another
// goroutine's wait can be the reason for: then it has not waited.
func (a *alarm) wait(ctx context.Context, until time.Duration, wake <-chan struct{}) (woken, set bool) {
	a.open.Do(a.start)
	if a.file == nil || !a.waiting.TryLock() {
		return false, false
	}
	defer a.waiting.Unlock()
	if !a.set(until) {
		return false, false
	}
	select {
	case <-a.rings:
		return false, true
	case <-wake:
		return true, true
	case <-ctx.Done():
		return false, true
	}
}

func (a *alarm) start() {
	fd, err := unix.TimerfdCreate(unix.CLOCK_BOOTTIME, unix.TFD_CLOEXEC|unix.TFD_NONBLOCK)
	if err != nil {
		return
	}
	file := os.NewFile(uintptr(fd), "alarm")
	if a.raw, err = file.SyscallConn(); err != nil {
		_ = file.Close()
		return
	}
	a.file, a.rings = file, make(chan struct{}, 1)
	go a.listen()
}

// set has the timer expire at an instant of the boot-time clock. An earlier
// setting is void.
func (a *alarm) set(at time.Duration) bool {
	spec := unix.ItimerSpec{Value: unix.NsecToTimespec(int64(at))}
	done := false
	err := a.raw.Control(func(fd uintptr) {
		_, _, errno := unix.RawSyscall6(unix.SYS_TIMERFD_SETTIME, fd, unix.TFD_TIMER_ABSTIME, uintptr(unsafe.Pointer(&spec)), 0, 0, 0)
		done = errno == 0
	})
	return err == nil && done
}

// listen passes on each expiry, for good. One that comes after its wait has
// ended makes the next wait look at the clock once more.
func (a *alarm) listen() {
	var expiries uint64
	for {
		err := a.raw.Read(func(fd uintptr) bool {
			_, _, errno := unix.RawSyscall(unix.SYS_READ, fd, uintptr(unsafe.Pointer(&expiries)), unsafe.Sizeof(expiries))
			return errno != unix.EAGAIN
		})
		if err != nil {
			return
		}
		select {
		case a.rings <- struct{}{}:
		default:
		}
	}
}
