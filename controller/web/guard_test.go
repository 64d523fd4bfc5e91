package web_test

import (
	"bufio"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
	"benchtide/controller/web"
)

// wire is a listener in memory, whose connections hold nothing back.
type wire struct {
	conns chan net.Conn
	once  sync.Once
	done  chan struct{}
}

func newWire() *wire { return &wire{conns: make(chan net.Conn), done: make(chan struct{})} }

func (w *wire) Accept() (net.Conn, error) {
	select {
	case c := <-w.conns:
		return c, nil
	case <-w.done:
		return nil, net.ErrClosed
	}
}

func (w *wire) Close() error   { w.once.Do(func() { close(w.done) }); return nil }
func (w *wire) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8347} }

func (w *wire) dial() net.Conn {
	client, server := net.Pipe()
	w.conns <- server
	return client
}

// onWire runs f with a server of an API, in virtual time.
func onWire(t *testing.T, f func(t *testing.T, r *rig, w *wire)) {
	synctest.Test(t, func(t *testing.T) {
		r, w := newRig(t), newWire()
		server := web.NewServer(web.Harden(r.api))
		done := make(chan error)
		go func() { done <- server.Serve(w) }()
		f(t, r, w)
		r.api.Close()
		require.NoError(t, server.Close())
		require.ErrorIs(t, <-done, http.ErrServerClosed)
		time.Sleep(time.Second) // a server leaves half a second for the last answer to arrive
	})
}

// says writes what it can, and what else stops the writing is not its concern.
func says(c net.Conn, text string) { go func() { _, _ = io.WriteString(c, text) }() }

// cutAfter is how long a connection goes on until the server ends it.
func cutAfter(t *testing.T, c net.Conn) time.Duration {
	t.Helper()
	begun := time.Now()
	_, err := io.Copy(io.Discard, c)
	require.True(t, err == nil || errors.Is(err, io.ErrClosedPipe), err)
	return time.Since(begun)
}

func TestSlowClientsAreCut(t *testing.T) {
	const act = "POST /api/v1/stop HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nX-Benchtide: act\r\n"
	for name, c := range map[string]struct {
		says string
		most time.Duration
	}{
		"that say nothing":             {"", 6 * time.Second},
		"that never end their headers": {"GET /api/v1/status HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ", 6 * time.Second},
		"that never end their body":    {act + "Content-Length: 100\r\n\r\n{", 11 * time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			onWire(t, func(t *testing.T, r *rig, w *wire) {
				client := w.dial()
				says(client, c.says)
				assert.LessOrEqual(t, cutAfter(t, client), c.most)
				assert.Empty(t, r.site.acts)
			})
		})
	}
}

func TestHeadersAndBodiesHaveTheirLimits(t *testing.T) {
	for name, c := range map[string]struct{ says, answer string }{
		"headers": {"GET /api/v1/status HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: " + strings.Repeat("x", 40<<10) + "\r\n\r\n", "HTTP/1.1 431"},
		"a body": {
			"POST /api/v1/stop HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nX-Benchtide: act\r\nContent-Length: 1000000000\r\n\r\n" +
				`{"bench":"` + strings.Repeat("x", 40<<10), "HTTP/1.1 413",
		},
	} {
		t.Run(name, func(t *testing.T) {
			onWire(t, func(t *testing.T, r *rig, w *wire) {
				client := w.dial()
				says(client, c.says)
				answer := make([]byte, len(c.answer))
				_, err := io.ReadFull(client, answer)
				require.NoError(t, err)
				assert.Equal(t, c.answer, string(answer))
				require.NoError(t, client.Close())
			})
		})
	}
}

// listenOn opens an event stream and reads its first line.
func listenOn(t *testing.T, w *wire) (net.Conn, *bufio.Reader) {
	t.Helper()
	client := w.dial()
	says(client, "GET /api/v1/events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
	from := bufio.NewReader(client)
	for {
		line, err := from.ReadString('\n')
		require.NoError(t, err)
		if strings.HasPrefix(line, "event: status") {
			return client, from
		}
	}
}

func TestAReaderThatStopsHoldsUpNeitherTheLoopNorOthers(t *testing.T) {
	onWire(t, func(t *testing.T, r *rig, w *wire) {
		stopped, _ := listenOn(t, w)
		_, reading := listenOn(t, w)
		lines := make(chan string, 100_000)
		go func() {
			defer close(lines)
			for {
				line, err := reading.ReadString('\n')
				if err != nil {
					return
				}
				lines <- line
			}
		}()
		synctest.Wait()
		begun := time.Now()
		for range 10_000 { // as the loop does, faster than anybody reads
			r.api.Publish(live.Event{Text: "x"})
		}
		assert.Zero(t, time.Since(begun), "whoever publishes never waits")
		time.Sleep(3 * time.Second)
		snapshots := 0
		for len(lines) > 0 {
			if strings.HasPrefix(<-lines, "event: status") {
				snapshots++
			}
		}
		assert.GreaterOrEqual(t, snapshots, 3, "the other sees a snapshot each second")
		time.Sleep(10 * time.Second)
		assert.Zero(t, cutAfter(t, stopped), "who reads nothing for ten seconds is cut")
	})
}

func TestAHungLoopIsSeenByTheSilenceOfTheStream(t *testing.T) {
	onWire(t, func(t *testing.T, r *rig, w *wire) {
		_, from := listenOn(t, w)
		heard := make(chan time.Time, 1000)
		go func() {
			for {
				if _, err := from.ReadString('\n'); err != nil {
					return
				}
				heard <- time.Now()
			}
		}()
		time.Sleep(5500 * time.Millisecond)
		r.site.silence(live.ErrUnavailable)
		hung := time.Now()
		time.Sleep(10 * time.Second)
		var last time.Time
		for len(heard) > 0 {
			last = <-heard
		}
		assert.Less(t, hung.Sub(last), 1100*time.Millisecond, "a snapshot a second while it lives")
		assert.False(t, last.After(hung), "none of a loop that does not answer")
	})
}

// A page elsewhere whose name is made to point here may read no more than act.
func TestANameThatPointsHereReadsNothing(t *testing.T) {
	r, passed := newRig(t), 0
	h := web.Harden(web.NamedLocally(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { passed++ })))
	paths := []string{"/", "/app.js", "/metrics"}
	for _, route := range web.Routes(r.api) {
		if method, path, _ := strings.Cut(route, " "); method == "GET" {
			paths = append(paths, "/api/v1"+path)
		}
	}
	require.Greater(t, len(paths), 10)
	knock := func(method, path, host string) int {
		q := httptest.NewRequest(method, path, nil)
		q.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, q)
		return w.Code
	}
	for _, path := range paths {
		for _, method := range []string{"GET", "HEAD", "OPTIONS", "POST"} {
			for _, host := range []string{
				"elsewhere.example", "elsewhere.example:8347", "localhost.elsewhere.example", "127.0.0.1.elsewhere.example:8347", "notlocalhost", "[elsewhere.example]:80",
			} {
				assert.Equal(t, http.StatusMisdirectedRequest, knock(method, path, host), "%s %s at %s", method, path, host)
			}
		}
	}
	assert.Zero(t, passed)
	for _, host := range []string{"127.0.0.1:8347", "localhost", "[::1]:8347"} {
		for _, path := range paths {
			assert.Equal(t, http.StatusOK, knock("GET", path, host), "%s at %s", path, host)
		}
	}
}
