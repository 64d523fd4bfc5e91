package web

import (
	"net"
	"net/http"
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
