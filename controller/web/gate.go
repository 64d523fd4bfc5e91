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

	"benchtide/controller/web/crowd"
)

// What a site may leave open to whoever reaches it, by choice.
const (
	openMetrics = "metrics" // /metrics
	openStatus  = "status"  // what the page shows of the benches: no diary, no export, no act
)

// statusPaths are what openStatus opens.
var statusPaths = []string{"status", "benches", "calendar", "outlook", "events", "openapi.json"}

// strangersAtOnce is how many requests of strangers are answered at once, beside
// the streams: each holds its whole answer while it is slow to read.
const strangersAtOnce = 16

// Gate stands before a handler on an address that others may reach. It lets
// through who shows the token or a session that was begun with it, passes the
// rest on to where users have to name themselves, if users there are, and slows
// down whoever guesses. Who asks for something that is left open and gives no
// name is a stranger; a name that is given has to be right there, too.
type Gate struct {
	handler   http.Handler
	users     http.Handler // asks for a user, then answers as handler; nil without users
	token     *[sha256.Size]byte
	open      []string
	failed    *failures
	strangers chan struct{} // one for each request of theirs under way
	log       *slog.Logger
}

// NewGate returns a gate before h. Without a token only users get through.
func NewGate(h http.Handler, token string, open []string, log *slog.Logger) *Gate {
	g := &Gate{handler: h, open: open, failed: newFailures(time.Now), strangers: make(chan struct{}, strangersAtOnce), log: log}
	if token != "" {
		sum := sha256.Sum256([]byte(token))
		g.token = &sum
	}
	return g
}

// WithUsers has h ask those for their name who show no token.
func (g *Gate) WithUsers(h http.Handler) { g.users = h }

// entry is how a request came through a gate.
type entry struct {
	gate     *Gate
	stranger bool
}

// logsIn reports whether a request is for a new session, which a name begins
// and no session does.
func logsIn(r *http.Request) bool {
	return r.Method == http.MethodPost && r.URL.Path == prefix+"session"
}

type entryKey struct{}

func entryOf(r *http.Request) entry {
	e, _ := r.Context().Value(entryKey{}).(entry)
	return e
}

// gateOf is the gate that a request came through; nil where there is none.
func gateOf(r *http.Request) *Gate { return entryOf(r).gate }

// isStranger reports whether a request is answered though nobody knows who asks.
func isStranger(r *http.Request) bool { return entryOf(r).stranger }

// through is the request as the handler behind the gate gets it.
func (g *Gate) through(r *http.Request, stranger bool) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), entryKey{}, entry{g, stranger}))
}

// ServeHTTP lets through who may, and tells the others what to give.
func (g *Gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	named := r.Header.Get("Authorization") != ""
	switch {
	case g.token != nil && g.session(r) && !(named && logsIn(r)):
		g.welcome(w, r)
	case named:
		g.try(w, r)
	case g.opens(r):
		g.serveStranger(w, g.through(r, true))
	default:
		g.ask(w, r)
	}
}

// welcome serves who is logged in.
func (g *Gate) welcome(w http.ResponseWriter, r *http.Request) {
	crowd.LetIn(r.Context())
	g.handler.ServeHTTP(w, g.through(r, false))
}

// serveStranger answers a few at a time. Streams have a bound of their own, and
// what is the same for everybody takes nothing.
func (g *Gate) serveStranger(w http.ResponseWriter, r *http.Request) {
	path, api := strings.CutPrefix(r.URL.Path, prefix)
	if path == "events" || path == "session" || !api && r.URL.Path != "/metrics" {
		g.handler.ServeHTTP(w, r)
		return
	}
	select {
	case g.strangers <- struct{}{}:
		defer func() { <-g.strangers }()
		g.handler.ServeHTTP(w, r)
	default:
		tooMany{"too many ask at once without a log-in; log in, or try again in a moment"}.problem().write(w)
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
		g.welcome(w, r)
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
		g.users.ServeHTTP(&judged{ResponseWriter: w, good: func() { crowd.LetIn(r.Context()) }, bad: func() {}}, g.through(r, false))
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
