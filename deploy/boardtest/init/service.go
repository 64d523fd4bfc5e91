//go:build boardtest && linux

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"benchtide/deploy/boardtest/console"
)

const notifySocket = "/run/notify"

// service keeps one daemon running as a service manager would: it restarts it
// whenever it ends, runs its off command in between, and kills it when its
// keep-alives stop.
type service struct {
	out *lines

	mu      sync.Mutex
	spec    console.Service
	process *os.Process
	ending  bool
	done    chan struct{} // closed when the service is down for good
}

func newService(out *lines) *service { return &service{out: out} }

func (s *service) serve(spec console.Service) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done != nil {
		return errors.New("serve: a service runs already")
	}
	if len(spec.Start) == 0 {
		return errors.New("serve: no command given")
	}
	s.spec, s.ending, s.done = spec, false, make(chan struct{})
	go s.supervise(s.done)
	return nil
}

func (s *service) supervise(done chan struct{}) {
	defer close(done)
	for {
		s.tell("exited", s.once())
		if len(s.spec.StopPost) > 0 {
			out, err := exec.Command(s.spec.StopPost[0], s.spec.StopPost[1:]...).CombinedOutput()
			s.tell("off", strings.TrimSpace(fmt.Sprintf("%s %v", out, orFine(err))))
		}
		if s.isEnding() {
			return
		}
		time.Sleep(time.Duration(s.spec.RestartMS) * time.Millisecond)
	}
}

func orFine(err error) string {
	if err != nil {
		return err.Error()
	}
	return "fine"
}

// once runs the daemon to its end and says how it ended.
func (s *service) once() string {
	watch, err := s.listen()
	if err != nil {
		return err.Error()
	}
	defer watch.Close()
	cmd := exec.Command(s.spec.Start[0], s.spec.Start[1:]...)
	cmd.Env = append([]string{"NOTIFY_SOCKET=" + notifySocket}, s.spec.Env...)
	if s.spec.WatchdogMS > 0 {
		cmd.Env = append(cmd.Env, "WATCHDOG_USEC="+strconv.Itoa(s.spec.WatchdogMS*1000))
	}
	r, w := io.Pipe()
	cmd.Stdout, cmd.Stderr = w, w
	go s.relay(r)
	if err := s.start(cmd); err != nil {
		return err.Error()
	}
	go s.watchdog(watch, cmd.Process)
	err = cmd.Wait()
	_ = w.Close() // always nil
	return orFine(err)
}

func (s *service) start(cmd *exec.Cmd) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ending {
		return errors.New("stopped before it started")
	}
	s.tell("started", "")
	if err := cmd.Start(); err != nil {
		return err
	}
	s.process = cmd.Process
	return nil
}

func (s *service) listen() (*net.UnixConn, error) {
	_ = os.Remove(notifySocket) // absent at the first start
	return net.ListenUnixgram("unixgram", &net.UnixAddr{Name: notifySocket, Net: "unixgram"})
}

// watchdog kills the daemon when its keep-alives stop. The time runs from the
// daemon's READY, as with systemd.
func (s *service) watchdog(c *net.UnixConn, p *os.Process) {
	buf := make([]byte, 4096)
	limit := time.Duration(s.spec.WatchdogMS) * time.Millisecond
	for {
		n, err := c.Read(buf)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded):
			s.tell("hung", "no keep-alive for "+limit.String())
			_ = p.Kill() // it may have ended by itself meanwhile
			return
		case err != nil:
			return // closed: the daemon ended
		}
		text := string(buf[:n])
		if strings.Contains(text, "READY=1") {
			s.tell("ready", text)
		}
		if limit > 0 && (strings.Contains(text, "READY=1") || strings.Contains(text, "WATCHDOG=1")) {
			_ = c.SetReadDeadline(time.Now().Add(limit)) // fails only once closed
		}
	}
}

func (s *service) relay(r io.Reader) {
	for lines := bufio.NewScanner(r); lines.Scan(); {
		s.tell("log", lines.Text())
	}
}

func (s *service) signal(number string) error {
	n, err := strconv.Atoi(number)
	if err != nil {
		return fmt.Errorf("signal: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.process == nil {
		return errors.New("signal: nothing runs")
	}
	return s.process.Signal(syscall.Signal(n))
}

func (s *service) stop() error {
	s.mu.Lock()
	done := s.done
	s.ending = true
	if s.process != nil {
		_ = s.process.Signal(syscall.SIGTERM) // it may have ended by itself
	}
	s.mu.Unlock()
	if done == nil {
		return errors.New("stop: nothing runs")
	}
	<-done
	s.mu.Lock()
	s.done, s.process = nil, nil
	s.mu.Unlock()
	return nil
}

func (s *service) isEnding() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ending
}

func (s *service) tell(event, text string) { s.out.send(console.Message{Event: event, Text: text}) }
