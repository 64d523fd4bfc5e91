package daemon

import (
	"context"
	"fmt"
	"strings"
	"time"

	sd "github.com/coreos/go-systemd/v22/daemon"

	"benchtide/controller"
	"benchtide/controller/loop"
)

// serviceManager tells systemd that the daemon is ready, alive and stopping.
//
// A sign of life comes from the loop and never from a timer: twice in each
// period that systemd allows, the loop is woken, and only a turn which after
// that reached the board is passed on. Sending may wait for systemd, so the
// loop leaves word here and goes on.
type serviceManager struct {
	send    func(state string) // sd_notify(3)
	allowed time.Duration      // the longest silence; 0 when nobody listens for life
	alive   chan struct{}
	status  chan string
}

// newServiceManager speaks to the service manager that started this program.
// Without one every message goes nowhere.
func newServiceManager() (*serviceManager, error) {
	allowed, err := sd.SdWatchdogEnabled(false)
	if err != nil {
		return nil, fmt.Errorf("read how often the service manager wants a sign of life: %w; start this program by its service, or unset WATCHDOG_USEC", err)
	}
	return &serviceManager{
		send: func(state string) {
			_, _ = sd.SdNotify(false, state) // a manager that cannot be told will act on the silence
		},
		allowed: allowed,
		alive:   make(chan struct{}, 1),
		status:  make(chan string, 1),
	}, nil
}

// Alive says that a turn came in time and reached the board. It never waits.
func (m *serviceManager) Alive() {
	select {
	case m.alive <- struct{}{}:
	default:
	}
}

// Status leaves the state of the site, in one line, for "systemctl status". It
// never waits; a text that was not sent yet gives way to this one. It is for
// the loop's goroutine alone.
func (m *serviceManager) Status(text string) {
	select {
	case <-m.status:
	default:
	}
	m.status <- text
}

// Serve passes word on until ctx ends: ready after the first turn that reached
// the board, so with every output known off. wake asks the loop for a turn.
func (m *serviceManager) Serve(ctx context.Context, wake func()) {
	defer m.send(sd.SdNotifyStopping)
	select {
	case <-m.alive:
		m.send(sd.SdNotifyReady)
	case <-ctx.Done():
		return
	}
	var due <-chan time.Time
	if m.allowed > 0 {
		ticker := time.NewTicker(m.allowed / 2)
		defer ticker.Stop()
		due = ticker.C
	}
	m.pass(ctx, due, wake)
}

func (m *serviceManager) pass(ctx context.Context, due <-chan time.Time, wake func()) {
	var turn <-chan struct{} // of a turn that is being waited for
	for {
		select {
		case <-due:
			m.forget()
			turn = m.alive
			wake()
		case <-turn:
			turn = nil
			m.send(sd.SdNotifyWatchdog)
		case text := <-m.status:
			m.send("STATUS=" + text)
		case <-ctx.Done():
			return
		}
	}
}

// forget drops a sign of life that is older than the question.
func (m *serviceManager) forget() {
	select {
	case <-m.alive:
	default:
	}
}

// managerSink keeps the one line of "systemctl status" up to date.
type managerSink struct {
	manager *serviceManager
	told    bool
}

var _ loop.Sink = (*managerSink)(nil)

// Turn tells the state of the site when something happened to it.
func (s *managerSink) Turn(t *loop.Turn) {
	if s.told && len(t.Events) == 0 {
		return
	}
	s.told = true
	s.manager.Status(statusLine(&t.Snapshot.Status, t.Names))
}

// statusLine says in one line what each bench does or waits for.
func statusLine(st *controller.Status, n *controller.Names) string {
	var benches []string
	for i := range st.Benches {
		benches = append(benches, n.Titles.Bench(n.Benches[i])+" "+benchLine(&st.Benches[i], n.Zone))
	}
	line := strings.Join(benches, "; ")
	if st.HandsIn {
		line = "hands-in, nothing starts; " + line
	}
	return line
}

func benchLine(b *controller.BenchStatus, zone *time.Location) string {
	switch {
	case len(b.Latched) > 0:
		return "latched by " + string(b.Latched[0].Interlock)
	case b.Phase != controller.Rest:
		return b.Phase.String()
	case b.Paused:
		return "paused until " + b.PausedUntil.In(zone).Format(statusTime)
	case b.HasNext:
		return "floods next " + b.Next.Due.In(zone).Format(statusTime)
	}
	return "at rest"
}

const statusTime = "Mon 2 Jan 15:04"
