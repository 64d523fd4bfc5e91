package web

import (
	"net"
	"net/http"

	"benchtide/controller"
)

// Who asks from this machine stands at the bench, or may as well: the commands
// by their socket, a browser on the controller itself. Everybody else is far.

// asker is who sent a request; sure is the word in it that nobody works in the
// bench.
func asker(r *http.Request, sure bool) controller.Asker {
	return controller.Asker{Far: !near(r), Sure: sure}
}

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
