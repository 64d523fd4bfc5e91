package web

import (
	"net"
	"net/http"
	"sync"
	"time"
)

// Who asks from this machine stands at the bench, or may as well: the commands
// by their socket, a browser on the controller itself. Everybody else is far,
// and may not start water where somebody works without having made sure.

// near reports whether a request comes from this machine, and not through a
// proxy on it.
func near(r *http.Request) bool {
	if r.Header.Get("Forwarded") != "" || r.Header.Get("X-Forwarded-For") != "" {
		return false
	}
	if _, ok := r.Context().Value(http.LocalAddrContextKey).(*net.UnixAddr); ok {
		return true
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	return err == nil && net.ParseIP(host).IsLoopback()
}

// stopHolds is how long a stop from near keeps floods from far away.
const stopHolds = 30 * time.Minute

// stops remembers until when, by the site's clock, what was stopped from near
// stays so for those who are far.
type stops struct {
	mu    sync.Mutex
	until map[int]time.Time // by bench
}

func (s *stops) hold(now time.Time, benches ...int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.until == nil {
		s.until = map[int]time.Time{}
	}
	for _, b := range benches {
		s.until[b] = now.Add(stopHolds)
	}
}

// held returns until when a bench is held.
func (s *stops) held(now time.Time, bench int) (time.Time, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	until := s.until[bench]
	return until, now.Before(until) && until.Sub(now) <= stopHolds // a clock that was set back holds nobody longer
}
