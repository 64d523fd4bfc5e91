package web

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"
)

// What a site may leave open to whoever reaches it, by choice.
const (
	openMetrics = "metrics" // /metrics
	openStatus  = "status"  // what the page shows of the benches: no diary, no export, no act
)

// statusPaths are what openStatus opens.
var statusPaths = []string{"status", "benches", "calendar", "outlook", "events", "openapi.json"}

// Gate stands before a handler on an address that others may reach. It lets
// through who shows the token or a session that was begun with it, passes the
// rest on to where users have to name themselves, if users there are, and slows
// down whoever guesses.
type Gate struct {
	handler http.Handler
	users   http.Handler // asks for a user, then answers as handler; nil without users
	token   *[sha256.Size]byte
	open    []string
	failed  *failures
	log     *slog.Logger
}

// NewGate returns a gate before h. Without a token only users get through.
func NewGate(h http.Handler, token string, open []string, log *slog.Logger) *Gate {
	g := &Gate{handler: h, open: open, failed: newFailures(time.Now), log: log}
	if token != "" {
		sum := sha256.Sum256([]byte(token))
		g.token = &sum
	}
	return g
}

// WithUsers has h ask those for their name who show no token.
func (g *Gate) WithUsers(h http.Handler) { g.users = h }

type gateKey struct{}

// gateOf is the gate that a request came through; nil where there is none.
func gateOf(r *http.Request) *Gate {
	g, _ := r.Context().Value(gateKey{}).(*Gate)
	return g
}

func (g *Gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	r = r.WithContext(context.WithValue(r.Context(), gateKey{}, g))
	switch {
	case g.opens(r), g.token != nil && g.session(r):
		g.handler.ServeHTTP(w, r)
	case r.Header.Get("Authorization") == "":
		g.ask(w, r)
	default:
		g.try(w, r)
	}
}

// try looks at the name that a request gives.
func (g *Gate) try(w http.ResponseWriter, r *http.Request) {
	forgive, ok := g.failed.try(r.RemoteAddr)
	switch {
	case !ok:
		w.Header().Set("Retry-After", fmt.Sprint(int(againEvery.Seconds())))
		Problem{Title: "too many requests", Status: http.StatusTooManyRequests, Detail: fmt.Sprintf("too many log-ins from this address have failed; wait %s and try again", againEvery)}.write(w)
	case g.shown(r):
		forgive()
		g.handler.ServeHTTP(w, r)
	default:
		judge := &judged{ResponseWriter: w, good: forgive, bad: func() { g.log.Warn("a log-in failed", "from", r.RemoteAddr) }}
		g.ask(judge, r)
		judge.settle(http.StatusOK)
	}
}

// opens reports whether a request needs no name: for the page's own files, which
// tell nothing of the site, for the state of the session, and for what was left
// open.
func (g *Gate) opens(r *http.Request) bool {
	path, api := strings.CutPrefix(r.URL.Path, prefix)
	asks := r.Method == http.MethodGet || r.Method == http.MethodHead
	switch {
	case !asks:
		return false
	case r.URL.Path == "/metrics":
		return slices.Contains(g.open, openMetrics)
	case !api:
		return g.token != nil || slices.Contains(g.open, openStatus)
	}
	return path == "session" || slices.Contains(g.open, openStatus) && slices.Contains(statusPaths, path)
}

// shown reports whether a request shows the token.
func (g *Gate) shown(r *http.Request) bool {
	token, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	if g.token == nil || !ok {
		return false
	}
	sum := sha256.Sum256([]byte(token))
	return subtle.ConstantTimeCompare(sum[:], g.token[:]) == 1
}

// ask has a request name its user, or refuses it.
func (g *Gate) ask(w http.ResponseWriter, r *http.Request) {
	if g.users != nil {
		g.users.ServeHTTP(w, r)
		return
	}
	w.Header().Set("WWW-Authenticate", "Bearer")
	Problem{Title: "unauthorized", Status: http.StatusUnauthorized, Detail: "this address needs the site's token: log in on the page, or send Authorization: Bearer and the token"}.write(w)
}

// judged tells by the answer whether the name that a request gave was good.
type judged struct {
	http.ResponseWriter
	good, bad func()
	settled   bool
}

func (j *judged) settle(code int) {
	switch {
	case j.settled:
		return
	case code == http.StatusUnauthorized:
		j.bad()
	default:
		j.good()
	}
	j.settled = true
}

func (j *judged) WriteHeader(code int) {
	j.settle(code)
	j.ResponseWriter.WriteHeader(code)
}

func (j *judged) Write(p []byte) (int, error) {
	j.settle(http.StatusOK)
	return j.ResponseWriter.Write(p)
}

// Unwrap is for http.ResponseController.
func (j *judged) Unwrap() http.ResponseWriter { return j.ResponseWriter }
