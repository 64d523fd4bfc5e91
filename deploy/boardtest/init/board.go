//go:build boardtest && linux

package main

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"time"

	"golang.org/x/sys/unix"

	"benchtide/deploy/boardtest/console"
)

// verb is one thing that the host may ask for.
type verb func(*service, console.Request) (string, error)

// verbs need nothing but their data.
var verbs = map[string]verb{
	"serve": func(s *service, r console.Request) (string, error) {
		if r.Service == nil {
			return "", errors.New("serve: no service given")
		}
		return "", s.serve(*r.Service)
	},
	"stop":     func(s *service, _ console.Request) (string, error) { return "", s.stop() },
	"stamp":    func(*service, console.Request) (string, error) { return stamp() },
	"files":    func(_ *service, r console.Request) (string, error) { return "", doFiles(r.Data) },
	"pour":     func(_ *service, r console.Request) (string, error) { return "", pour(r.Data) },
	"act":      func(_ *service, r console.Request) (string, error) { return act(r.Data) },
	"expander": func(_ *service, r console.Request) (string, error) { return doExpander(r.Args) },
	"probe":    func(*service, console.Request) (string, error) { return "", probe() },
	"moves":    func(*service, console.Request) (string, error) { return moves() },
}

// verbsOf are about something, which is their first argument.
var verbsOf = map[string]verb{
	"put": func(_ *service, r console.Request) (string, error) { return "", put(r.Args[0], r.Data) },
	"run": func(_ *service, r console.Request) (string, error) {
		out, err := exec.Command(r.Args[0], r.Args[1:]...).CombinedOutput()
		return string(out), err
	},
	"signal": func(s *service, r console.Request) (string, error) { return "", s.signal(r.Args[0]) },
	"level":  func(_ *service, r console.Request) (string, error) { return level(r.Args) },
	"clock":  func(_ *service, r console.Request) (string, error) { return "", setClock(r.Args[0]) },
	"get":    func(_ *service, r console.Request) (string, error) { return get(r.Args[0]) },
	"read": func(_ *service, r console.Request) (string, error) {
		b, err := os.ReadFile(r.Args[0])
		return string(b), err
	},
	"mount": func(_ *service, r console.Request) (string, error) { return "", mountDisk(r.Args) },
}

func do(s *service, r console.Request) (string, error) {
	if v, ok := verbs[r.Do]; ok {
		return v(s, r)
	}
	v, ok := verbsOf[r.Do]
	switch {
	case !ok:
		return "", fmt.Errorf("cannot do %q", r.Do)
	case len(r.Args) == 0:
		return "", fmt.Errorf("%q: what of?", r.Do)
	}
	return v(s, r)
}

func put(path, data string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, []byte(data), 0o644)
}

// mountKernelFiles brings up what the kernel offers, and the loopback network.
func mountKernelFiles() error {
	for _, m := range []struct{ kind, at string }{
		{"proc", "/proc"}, {"sysfs", "/sys"}, {"devtmpfs", "/dev"}, {"tmpfs", "/run"}, {"tmpfs", "/tmp"},
	} {
		if err := os.MkdirAll(m.at, 0o755); err != nil {
			return err
		}
		if err := unix.Mount(m.kind, m.at, m.kind, 0, ""); err != nil {
			return fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	return loopbackUp()
}

func loopbackUp() error {
	fd, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	req, err := unix.NewIfreq("lo")
	if err != nil {
		return err
	}
	req.SetUint16(unix.IFF_UP | unix.IFF_RUNNING)
	return unix.IoctlIfreq(fd, unix.SIOCSIFFLAGS, req)
}

// setClock does what a time daemon does at its first answer: it steps wall
// time and tells the kernel that time is synchronised.
func setClock(ns string) error {
	n, err := strconv.ParseInt(ns, 10, 64)
	if err != nil {
		return fmt.Errorf("set the clock: %w", err)
	}
	t := unix.NsecToTimespec(n)
	if err := unix.ClockSettime(unix.CLOCK_REALTIME, &t); err != nil {
		return fmt.Errorf("set the clock: %w", err)
	}
	_, err = unix.Adjtimex(&unix.Timex{Modes: unix.ADJ_STATUS | unix.ADJ_MAXERROR | unix.ADJ_ESTERROR})
	return err
}

func stamp() (string, error) {
	var boot, wall unix.Timespec
	if err := errors.Join(unix.ClockGettime(unix.CLOCK_BOOTTIME, &boot), unix.ClockGettime(unix.CLOCK_REALTIME, &wall)); err != nil {
		return "", err
	}
	return fmt.Sprint(boot.Nano(), " ", wall.Nano()), nil
}

func get(url string) (string, error) {
	client := http.Client{Timeout: 5 * time.Second}
	resp, err := client.Get(url)
	if err != nil {
		return "", err
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = fmt.Errorf("get %s: %s", url, resp.Status)
	}
	return string(b), err
}

func mountDisk(args []string) error {
	if len(args) < 2 {
		return errors.New("mount: want a device and a directory")
	}
	for _, module := range args[2:] {
		if err := insert(filepath.Join("/modules", module+".ko")); err != nil {
			return err
		}
	}
	if err := os.MkdirAll(args[1], 0o755); err != nil {
		return err
	}
	// The card is found, and then answers, a while after its driver is in.
	err := errors.New("no time")
	for end := time.Now().Add(20 * time.Second); err != nil && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		err = unix.Mount(args[0], args[1], "ext4", unix.MS_NOATIME, "")
		if !errors.Is(err, unix.ENOENT) && !errors.Is(err, unix.ENXIO) {
			break
		}
	}
	if err != nil {
		return fmt.Errorf("mount %s: %w", args[0], err)
	}
	return nil
}

// insert inserts a module, unless it is in already.
func insert(path string) error {
	if err := insertWith(path, ""); err != nil && !errors.Is(err, unix.EEXIST) {
		return fmt.Errorf("insert %s: %w", path, err)
	}
	return nil
}
