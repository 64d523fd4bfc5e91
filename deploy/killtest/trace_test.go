//go:build killtest && linux && amd64

package killtest

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// change is one system call that changes a file of the ledger.
type change struct {
	name string // of the call
	file string
	sync bool // it makes the file's content durable
}

// changing lists the calls that change files, with the argument that names the
// file: a descriptor, or for renames and removals a path.
var changing = map[uint64]struct {
	name string
	arg  int
	path bool
	sync bool
}{
	unix.SYS_PWRITE64:  {name: "pwrite64"},
	unix.SYS_WRITE:     {name: "write"},
	unix.SYS_FTRUNCATE: {name: "ftruncate"},
	unix.SYS_FSYNC:     {name: "fsync", sync: true},
	unix.SYS_FDATASYNC: {name: "fdatasync", sync: true},
	unix.SYS_RENAME:    {name: "rename", path: true},
	unix.SYS_RENAMEAT:  {name: "renameat", arg: 1, path: true},
	unix.SYS_UNLINK:    {name: "unlink", path: true},
	unix.SYS_UNLINKAT:  {name: "unlinkat", arg: 1, path: true},
}

// tracer runs a program and tells of each change of the ledger's files.
type tracer struct {
	// before is told of a change that is about to be made; false kills the
	// program first.
	before func(change) bool
	// synced is told of a file that has been synced.
	synced func(file string)

	inside map[int]change // by thread: the change it is making
}

// run starts cmd under the tracer and returns when the program has ended. It
// must not be waited for by anybody else.
func (t *tracer) run(cmd *exec.Cmd, started func()) error {
	runtime.LockOSThread() // the kernel takes orders from this thread alone
	defer runtime.UnlockOSThread()
	cmd.SysProcAttr = &syscall.SysProcAttr{Ptrace: true, Setpgid: true} // a group, to be waited for apart from others
	if err := cmd.Start(); err != nil {
		return err
	}
	defer func() { _ = cmd.Process.Release() }()
	pid := cmd.Process.Pid
	if err := t.begin(pid); err != nil {
		return errors.Join(err, unix.Kill(pid, unix.SIGKILL))
	}
	started()
	t.inside = map[int]change{}
	known := map[int]bool{pid: true}
	for {
		var ws unix.WaitStatus
		tid, err := unix.Wait4(-pid, &ws, unix.WALL|unix.WNOTHREAD, nil)
		switch {
		case errors.Is(err, unix.EINTR):
			continue
		case err != nil:
			return fmt.Errorf("wait for the program: %w", err)
		case tid == pid && !ws.Stopped():
			return nil
		case !ws.Stopped():
			delete(known, tid)
			continue
		}
		deliver := 0
		switch signal := ws.StopSignal(); {
		case signal == unix.SIGTRAP|0x80:
			if !t.call(tid) {
				_ = unix.Kill(pid, unix.SIGKILL)
			}
		case signal == unix.SIGTRAP && ws.TrapCause() > 0:
		case signal == unix.SIGSTOP && !known[tid]:
		default:
			deliver = int(signal)
		}
		known[tid] = true
		_ = unix.PtraceSyscall(tid, deliver) // fails for a thread that has died meanwhile
	}
}

// begin waits for the program's first stop and has it stop at each call.
func (t *tracer) begin(pid int) error {
	var ws unix.WaitStatus
	if _, err := unix.Wait4(pid, &ws, unix.WALL, nil); err != nil {
		return err
	}
	if err := unix.PtraceSetOptions(pid, unix.PTRACE_O_TRACESYSGOOD|unix.PTRACE_O_TRACECLONE|unix.PTRACE_O_EXITKILL); err != nil {
		return fmt.Errorf("trace the program: %w", err)
	}
	return unix.PtraceSyscall(pid, 0)
}

// Stops of a system call, linux/ptrace.h.
const (
	entering = 1
	leaving  = 2
)

// callInfo is struct ptrace_syscall_info of linux/ptrace.h.
type callInfo struct {
	op     uint8
	_      [3]uint8
	_      uint32
	_      [2]uint64
	number uint64 // when entering; when leaving, the result
	args   [6]uint64
	_      uint64
}

// call looks at a stop of a thread at a system call; false when the program is
// to die here.
func (t *tracer) call(tid int) bool {
	var info callInfo
	if _, _, e := unix.Syscall6(unix.SYS_PTRACE, unix.PTRACE_GET_SYSCALL_INFO, uintptr(tid), unsafe.Sizeof(info), uintptr(unsafe.Pointer(&info)), 0, 0); e != 0 {
		return true // it has died
	}
	switch info.op {
	case entering:
		c, ok := changeOf(tid, &info)
		if !ok {
			return true
		}
		t.inside[tid] = c
		return t.before(c)
	case leaving:
		c, ok := t.inside[tid]
		delete(t.inside, tid)
		if ok && c.sync && info.number == 0 {
			t.synced(c.file)
		}
	}
	return true
}

func changeOf(tid int, info *callInfo) (change, bool) {
	k, ok := changing[info.number]
	if !ok {
		return change{}, false
	}
	file, err := "", error(nil)
	if k.path {
		file, err = textAt(tid, info.args[k.arg])
	} else {
		file, err = os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", tid, int32(info.args[k.arg])))
	}
	if err != nil || !strings.HasPrefix(filepath.Base(file), "ledger.db") {
		return change{}, false
	}
	return change{name: k.name, file: file, sync: k.sync}, true
}

// textAt reads a string out of the program's memory.
func textAt(tid int, at uint64) (string, error) {
	f, err := os.Open(fmt.Sprintf("/proc/%d/mem", tid))
	if err != nil {
		return "", err
	}
	defer f.Close()
	b := make([]byte, 512)
	n, err := f.ReadAt(b, int64(at))
	if end := bytes.IndexByte(b[:n], 0); end >= 0 {
		return string(b[:end]), nil
	}
	return "", err
}
