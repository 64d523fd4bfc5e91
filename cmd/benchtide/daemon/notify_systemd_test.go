package daemon

import (
	"context"
	"net"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// managed is a serviceManager whose messages are kept.
type managed struct {
	*serviceManager
	said  []string
	wakes int
	stop  func()
}

// manage serves inside a synctest bubble. answer is called when the loop is
// asked for a turn.
func manage(t *testing.T, allowed time.Duration, answer func(m *managed)) *managed {
	m := &managed{}
	m.serviceManager = &serviceManager{
		send:    func(state string) { m.said = append(m.said, state) },
		allowed: allowed,
		alive:   make(chan struct{}, 1),
		status:  make(chan string, 1),
	}
	ctx, cancel := context.WithCancel(context.Background())
	m.stop = cancel
	t.Cleanup(cancel)
	go m.Serve(ctx, func() { m.wakes++; answer(m) })
	synctest.Wait()
	return m
}

// take returns what was said since the last call.
func (m *managed) take() []string {
	synctest.Wait()
	said := m.said
	m.said = nil
	return said
}

func obedient(m *managed) { m.Alive() }

func dead(*managed) {}

func TestReadyComesAfterTheFirstTurn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := manage(t, 10*time.Second, obedient)
		time.Sleep(time.Minute)
		assert.Empty(t, m.take(), "no turn reached the board yet")
		m.Alive()
		assert.Equal(t, []string{"READY=1"}, m.take())
	})
}

func TestEachHalfPeriodBringsOneSignOfLife(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := manage(t, 10*time.Second, obedient)
		m.Alive()
		m.take()
		for range 1000 { // turns of a run come every 10 ms
			m.Alive()
			time.Sleep(10 * time.Millisecond)
		}
		assert.Equal(t, []string{"WATCHDOG=1", "WATCHDOG=1"}, m.take())
	})
}

func TestATurnBeforeTheQuestionIsNoSignOfLife(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := manage(t, 10*time.Second, dead)
		m.Alive()
		m.take()
		time.Sleep(4 * time.Second)
		m.Alive()
		time.Sleep(time.Minute)
		assert.Empty(t, m.take(), "the loop stood still since then")
		assert.GreaterOrEqual(t, m.wakes, 12, "it was asked again and again")
		m.Alive()
		assert.Equal(t, []string{"WATCHDOG=1"}, m.take(), "a turn at last")
	})
}

func TestWithoutWatchdogTheLoopIsLeftAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := manage(t, 0, obedient)
		m.Alive()
		m.take()
		time.Sleep(time.Hour)
		assert.Empty(t, m.take())
		assert.Zero(t, m.wakes)
	})
}

func TestStatusIsTheLatestAndStoppingTheLastWord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := manage(t, 0, dead)
		m.Status("north filling")
		m.Status("north holding")
		m.Alive()
		assert.Equal(t, []string{"READY=1", "STATUS=north holding"}, m.take())
		m.stop()
		assert.Equal(t, []string{"STOPPING=1"}, m.take())
	})
}

func TestMessagesArriveAtTheManagersSocket(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	require.NoError(t, err)
	defer socket.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	t.Setenv("WATCHDOG_USEC", strconv.Itoa(10_000_000))

	m, err := newServiceManager()
	require.NoError(t, err)
	assert.Equal(t, 10*time.Second, m.allowed)
	m.send("STATUS=all off")
	require.NoError(t, socket.SetReadDeadline(time.Now().Add(patience)))
	heard := make([]byte, 64)
	n, err := socket.Read(heard)
	require.NoError(t, err)
	assert.Equal(t, "STATUS=all off", string(heard[:n]))
}

func TestAPeriodThatIsNoNumberIsToldWithItsRemedy(t *testing.T) {
	t.Setenv("WATCHDOG_USEC", "soon")
	_, err := newServiceManager()
	require.Error(t, err)
	assert.True(t, strings.HasSuffix(err.Error(), "unset WATCHDOG_USEC"), err)
}

func TestWithoutAManagerNothingIsExpected(t *testing.T) {
	t.Setenv("WATCHDOG_USEC", "")
	t.Setenv("NOTIFY_SOCKET", "")
	m, err := newServiceManager()
	require.NoError(t, err)
	assert.Zero(t, m.allowed)
	m.send("READY=1")
}

func TestTheStatusLineSaysWhatEachBenchDoesOrWaitsFor(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	due := time.Date(2026, 6, 3, 14, 0, 0, 0, time.UTC)
	next := controller.BenchStatus{HasNext: true}
	next.Next.Due = due
	st := &controller.Status{Benches: []controller.BenchStatus{
		{Phase: controller.Holding},
		next,
		{Paused: true, PausedUntil: due},
		{Phase: controller.Draining, Latched: []safety.Trip{{Interlock: safety.DrainWindow}}},
		{},
	}}
	n := &controller.Names{Zone: zone, Benches: []string{"north", "south", "east", "west", "attic"}}
	line := "north holding; south floods next Wed 3 Jun 15:00; east paused until Wed 3 Jun 15:00; west latched by drain-window; attic at rest"
	assert.Equal(t, line, statusLine(st, n))
	st.HandsIn = true
	assert.Equal(t, "hands-in, nothing starts; "+line, statusLine(st, n))
}

func TestTheStatusLineIsRenewedOnlyByEvents(t *testing.T) {
	m := &serviceManager{status: make(chan string, 1)}
	s := &managerSink{manager: m}
	told := func(events int) int {
		s.Turn(&loop.Turn{Events: make([]controller.Event, events), Names: &controller.Names{}, Snapshot: &loop.Snapshot{}})
		defer func() {
			select {
			case <-m.status:
			default:
			}
		}()
		return len(m.status)
	}
	assert.Equal(t, 1, told(0), "at the first turn")
	assert.Equal(t, 0, told(0))
	assert.Equal(t, 1, told(1))
}
