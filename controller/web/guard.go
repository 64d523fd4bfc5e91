package web

import (
	"fmt"
	"log"
	"log/slog"
	"maps"
	"net"
	"net/http"
	"strings"
	"time"

	"golang.org/x/time/rate"

	"benchtide/controller/web/crowd"
)

// Bounds of a connection. Streams set their own deadline for each write.
const (
	headerWithin = 5 * time.Second
	readWithin   = 10 * time.Second
	replyWithin  = 30 * time.Second
	idleFor      = 2 * time.Minute
	headerLimit  = 8 << 10 // net/http takes 4 KiB more
	mostFields   = 64      // of a header; they cost more in memory than on the line, for as long as a stream goes on
)

// NewServer returns a server of h that cuts slow clients off. What it serves
// comes through Harden, and its listener is a crowd.Listener. It speaks HTTP/1
// alone: one connection is one request at a time, which the bounds of that
// listener rely on.
func NewServer(h http.Handler) *http.Server {
	s := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: headerWithin, ReadTimeout: readWithin, WriteTimeout: replyWithin, IdleTimeout: idleFor,
		MaxHeaderBytes: headerLimit, ConnContext: crowd.ConnContext, ConnState: crowd.ConnState,
		Protocols: new(http.Protocols),
	}
	s.Protocols.SetHTTP1(true)
	return s
}

// Complaints are what a server says of connections that failed. Strangers have
// it say as much as they like, so only some of it is passed on.
func Complaints(to *slog.Logger) *log.Logger {
	return log.New(complaints{to, rate.NewLimiter(rate.Every(complainEvery), complaintsAtOnce)}, "", 0)
}

const (
	complainEvery    = time.Minute
	complaintsAtOnce = 10
)

type complaints struct {
	to   *slog.Logger
	some *rate.Limiter
}

func (c complaints) Write(line []byte) (int, error) {
	if c.some.Allow() {
		c.to.Warn(strings.TrimSpace(string(line)))
	}
	return len(line), nil
}

// Known serves where no log-in is asked for: whoever gets there is no stranger.
func Known(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		crowd.LetIn(r.Context())
		h.ServeHTTP(w, r)
	})
}

// Harden refuses acts that a browser sends for another site's page, and headers
// that no browser sends, and tells browsers what no answer of ours needs. The
// page says for itself what it loads; anything else loads nothing.
func Harden(h http.Handler) http.Handler {
	h = fewFields(SameOrigin(h))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		maps.Copy(w.Header(), hardened)
		h.ServeHTTP(w, r)
	})
}

// hardened are header fields of every answer. Nobody changes them: whoever sets
// one of his own puts another in its place.
var hardened = http.Header{
	"Content-Security-Policy":      {"default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
	"X-Content-Type-Options":       {"nosniff"},
	"X-Frame-Options":              {"DENY"},
	"Referrer-Policy":              {"no-referrer"},
	"Cross-Origin-Opener-Policy":   {"same-origin"},
	"Cross-Origin-Resource-Policy": {"same-origin"},
}

// fewFields refuses requests with more header fields than anybody needs.
func fewFields(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if len(r.Header) > mostFields {
			Problem{Title: "too many header fields", Status: http.StatusRequestHeaderFieldsTooLarge, Detail: fmt.Sprintf("the request has %d header fields: send at most %d", len(r.Header), mostFields)}.write(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// SameOrigin refuses acts that a browser sends for another site's page, and what
// such a page asks of the API, where the browser says so: it could not read the
// answer, but have backups made and streams opened.
func SameOrigin(h http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		Problem{Title: "forbidden", Status: http.StatusForbidden, Detail: "an act has to come from this site's own page"}.write(w)
	}))
	acts := p.Handler(h)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		from := r.Header.Get("Sec-Fetch-Site")
		reads := r.Method == http.MethodGet || r.Method == http.MethodHead
		if reads && strings.HasPrefix(r.URL.Path, prefix) && (from == "cross-site" || from == "same-site") {
			Problem{Title: "forbidden", Status: http.StatusForbidden, Detail: "the API answers this site's own page, and programs; type its address to see it in a browser"}.write(w)
			return
		}
		acts.ServeHTTP(w, r)
	})
}

// NamedLocally refuses requests to a host name that is not this machine's own:
// a page elsewhere may have its name point here, and is then of the same
// origin. It is for listeners on which no user has to name himself.
func NamedLocally(h http.Handler) http.Handler {
	h = Known(h)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if name, _, err := net.SplitHostPort(host); err == nil {
			host = name
		}
		if host != "localhost" && net.ParseIP(trimBrackets(host)) == nil {
			Problem{Title: "misdirected request", Status: http.StatusMisdirectedRequest, Detail: "use the address, such as 127.0.0.1, or localhost"}.write(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

func trimBrackets(host string) string {
	if n := len(host); n > 1 && host[0] == '[' && host[n-1] == ']' {
		return host[1 : n-1]
	}
	return host
}
