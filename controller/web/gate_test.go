package web_test

import (
	"bytes"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/web"
)

const token = "tJ4rZ0cV7yQm2nXb"

// gated is an API behind a gate, asked from another machine.
type gated struct {
	*rig
	gate http.Handler
	told bytes.Buffer
}

func newGated(t testing.TB, token string, open ...string) *gated {
	g := &gated{rig: newRig(t)}
	gate := web.NewGate(g.api, token, open, slog.New(slog.NewTextHandler(&g.told, nil)))
	g.gate = web.Harden(gate)
	return g
}

func (g *gated) ask(method, path string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	q := httptest.NewRequest(method, "http://192.0.2.9:8347"+path, strings.NewReader(`{"bench":"north","proof":true}`))
	q.RemoteAddr = "192.0.2.7:40000"
	q.Header.Set("Content-Type", "application/json")
	q.Header.Set("X-Benchtide", "act")
	for _, f := range change {
		f(q)
	}
	w := httptest.NewRecorder()
	g.gate.ServeHTTP(w, q)
	return w
}

func bearer(token string) func(*http.Request) {
	return func(q *http.Request) { q.Header.Set("Authorization", "Bearer "+token) }
}

func with(c *http.Cookie) func(*http.Request) { return func(q *http.Request) { q.AddCookie(c) } }

func from(address string) func(*http.Request) {
	return func(q *http.Request) { q.RemoteAddr = address }
}

func TestNothingIsShownOrDoneWithoutTheToken(t *testing.T) {
	for _, path := range []string{"/api/v1/status", "/api/v1/export", "/api/v1/diary", "/metrics", "/api/v1/events"} {
		g := newGated(t, token)
		w := g.ask("GET", path)
		assert.Equal(t, http.StatusUnauthorized, w.Code, path)
		assert.Contains(t, problem(t, w).Detail, "log in on the page")
		assert.Equal(t, http.StatusUnauthorized, g.ask("GET", path, bearer("guess")).Code, path)
	}
	g := newGated(t, token)
	assert.Equal(t, http.StatusUnauthorized, g.ask("POST", "/api/v1/flood").Code)
	assert.Equal(t, http.StatusUnauthorized, g.ask("POST", "/api/v1/flood", bearer("")).Code)
	assert.Equal(t, http.StatusUnauthorized, g.ask("POST", "/api/v1/flood", func(q *http.Request) { q.SetBasicAuth("gardener", token) }).Code)
	assert.Empty(t, g.site.acts)
	assert.Equal(t, http.StatusOK, g.ask("POST", "/api/v1/flood", bearer(token)).Code)
	assert.Equal(t, []string{"flood 0 0s"}, g.site.acts)
}

func TestWithoutATokenAndUsersTheGateIsShut(t *testing.T) {
	g := newGated(t, "")
	assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", bearer("")).Code)
	assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status").Code)
}

func TestMetricsAndStatusAreOpenByChoiceAlone(t *testing.T) {
	code := func(open []string, method, path string) int {
		return newGated(t, token, open...).ask(method, path).Code
	}
	for _, c := range []struct {
		open         []string
		method, path string
		code         int
	}{
		{nil, "GET", "/metrics", 401},
		{[]string{"metrics"}, "GET", "/metrics", 404}, // reaches the handler, which here has none
		{[]string{"metrics"}, "POST", "/metrics", 401},
		{[]string{"metrics"}, "GET", "/api/v1/status", 401},
		{[]string{"status"}, "GET", "/api/v1/status", 200},
		{[]string{"status"}, "GET", "/api/v1/calendar", 200},
		{[]string{"status"}, "GET", "/metrics", 401},
		{[]string{"status"}, "GET", "/api/v1/diary", 401},
		{[]string{"status"}, "GET", "/api/v1/overview", 401},
		{[]string{"status"}, "GET", "/api/v1/backup", 401},
		{[]string{"status"}, "POST", "/api/v1/flood", 401},
		{[]string{"metrics", "status"}, "POST", "/api/v1/stop", 401},
	} {
		assert.Equal(t, c.code, code(c.open, c.method, c.path), "%v: %s %s", c.open, c.method, c.path)
	}
}

// login returns the cookie of a new session.
func (g *gated) login() *http.Cookie {
	g.t.Helper()
	w := g.ask("POST", "/api/v1/session", bearer(token))
	require.Equal(g.t, http.StatusOK, w.Code, w.Body.String())
	cookies := w.Result().Cookies()
	require.Len(g.t, cookies, 1)
	return cookies[0]
}

func TestASessionStandsForTheTokenAndCannotBeMade(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newGated(t, token)
		c := g.login()
		assert.True(t, c.HttpOnly)
		assert.Equal(t, http.SameSiteStrictMode, c.SameSite)
		assert.NotContains(t, c.Value, token)
		assert.Equal(t, http.StatusOK, g.ask("POST", "/api/v1/flood", with(c)).Code)

		forged := *c
		forged.Value = "A" + c.Value[1:]
		if forged.Value == c.Value {
			forged.Value = "B" + c.Value[1:]
		}
		assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", with(&forged)).Code)
		for _, value := range []string{"", "AAAA", c.Value + "AAAA", "no base64"} {
			assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", with(&http.Cookie{Name: c.Name, Value: value})).Code, value)
		}
		other, again := newGated(t, "another token"), newGated(t, token)
		assert.Equal(t, http.StatusUnauthorized, other.ask("GET", "/api/v1/status", with(c)).Code, "a new token ends every session")
		assert.Equal(t, http.StatusOK, again.ask("GET", "/api/v1/status", with(c)).Code, "a new program ends none")

		for _, any := range []*gated{g, other, again} {
			any.api.Close() // their streams would beat for a month
		}
		time.Sleep(31 * 24 * time.Hour)
		assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", with(c)).Code, "it ends")
	})
}

func TestABrowserIsToldWhetherToLogIn(t *testing.T) {
	g := newGated(t, token)
	state := func(change ...func(*http.Request)) string {
		return strings.TrimSpace(g.ask("GET", "/api/v1/session", change...).Body.String())
	}
	assert.Equal(t, `{"needed":true,"have":false}`, state())
	assert.Equal(t, `{"needed":true,"have":true}`, state(with(g.login())))
	assert.Equal(t, `{"needed":false,"have":true}`, strings.TrimSpace(newRig(t).request("GET", "/session", "").Body.String()))
	out := g.ask("DELETE", "/api/v1/session", with(g.login()))
	require.Len(t, out.Result().Cookies(), 1)
	assert.Negative(t, out.Result().Cookies()[0].MaxAge)
	assert.Equal(t, http.StatusConflict, newRig(t).request("POST", "/session", "").Code, "where there is no token there is nothing to log in with")
}

func TestSessionsAreAnsweredAsDescribed(t *testing.T) {
	d, g := served(t), newGated(t, token)
	for _, c := range []struct {
		method string
		change func(*http.Request)
		code   int
	}{
		{"POST", bearer(token), 200}, {"POST", bearer("guess"), 401}, {"DELETE", with(g.login()), 200},
		{"DELETE", func(q *http.Request) { with(g.login())(q); q.Header.Del("X-Benchtide") }, 403},
	} {
		w := g.ask(c.method, "/api/v1/session", c.change)
		require.Equal(t, c.code, w.Code, c.method)
		d.fits(c.method, "/session", w.Header().Get("Content-Type"), w.Code, w.Body.Bytes())
	}
}

func TestAnotherSitesPageCannotUseASession(t *testing.T) {
	g := newGated(t, token)
	c := g.login()
	for name, header := range map[string][2]string{
		"another origin":            {"Origin", "https://elsewhere.example"},
		"a sandbox":                 {"Origin", "null"},
		"cross-site by the browser": {"Sec-Fetch-Site", "cross-site"},
		"a sibling host":            {"Sec-Fetch-Site", "same-site"},
	} {
		for _, act := range [][2]string{{"POST", "/api/v1/flood"}, {"DELETE", "/api/v1/session"}, {"POST", "/api/v1/session"}} {
			w := g.ask(act[0], act[1], with(c), func(q *http.Request) { q.Header.Set(header[0], header[1]) })
			assert.Equal(t, http.StatusForbidden, w.Code, "%s: %s", name, act[1])
		}
	}
	assert.Empty(t, g.site.acts)
	for from, code := range map[string]int{"cross-site": 403, "same-site": 403, "same-origin": 200, "none": 200, "": 200} {
		for _, method := range []string{"GET", "HEAD"} {
			w := g.ask(method, "/api/v1/backup", with(c), func(q *http.Request) { q.Header.Set("Sec-Fetch-Site", from) })
			assert.Equal(t, code, w.Code, "a read by %s, %q", method, from)
		}
	}
}

func TestWhoGuessesIsSlowedDownAndNobodyElse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newGated(t, token)
		defer g.api.Close()
		session := g.login()
		for range web.FailuresAtOnce {
			require.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", bearer("guess")).Code)
		}
		w := g.ask("GET", "/api/v1/status", bearer("guess"))
		assert.Equal(t, http.StatusTooManyRequests, w.Code)
		assert.Equal(t, "30", w.Header().Get("Retry-After"))
		assert.Contains(t, problem(t, w).Detail, "wait 30s and try again")
		assert.Equal(t, http.StatusTooManyRequests, g.ask("GET", "/api/v1/status", bearer(token)).Code, "not even the right one tells that it is")
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", with(session)).Code)
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", bearer(token), from("192.0.2.8:1")).Code)

		time.Sleep(30 * time.Second)
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", bearer(token)).Code)
		assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", bearer("guess")).Code, "a good one gives back what it took")
		assert.Equal(t, http.StatusTooManyRequests, g.ask("GET", "/api/v1/status", bearer("guess")).Code)
		assert.Equal(t, web.FailuresAtOnce+1, strings.Count(g.told.String(), "a log-in failed"))
		assert.NotContains(t, g.told.String(), "guess")
	})
}

func TestOneMachineHasManyAddressesOfIPv6(t *testing.T) {
	g := newGated(t, token)
	for i := range web.FailuresAtOnce {
		g.ask("GET", "/api/v1/status", bearer("guess"), from(fmt.Sprintf("[2001:db8::%x]:1", i+1)))
	}
	assert.Equal(t, http.StatusTooManyRequests, g.ask("GET", "/api/v1/status", bearer("guess"), from("[2001:db8::ffff]:1")).Code)
	assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", bearer("guess"), from("[2001:db8:0:1::1]:1")).Code)
}

func TestAGuesserWithManyAddressesFillsNoMemoryAndIsSlowedDown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newGated(t, token)
		defer g.api.Close()
		refused := 0
		for i := range 3 * web.MostAddresses {
			w := g.ask("GET", "/api/v1/status", bearer("guess"), from(fmt.Sprintf("10.%d.%d.1:1", i/256, i%256)))
			if w.Code == http.StatusTooManyRequests {
				refused++
			}
		}
		assert.Equal(t, 2*web.MostAddresses-web.FailuresAtOnce, refused)
		time.Sleep(time.Hour)
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", bearer(token), from("10.200.0.1:1")).Code, "old failures make room")
	})
}

// users asks for gardener as the Prometheus exporters' web configuration does.
func users(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, password, _ := r.BasicAuth(); password != "watering can" {
			w.Header().Set("WWW-Authenticate", "Basic")
			http.Error(w, "Unauthorized", http.StatusUnauthorized)
			return
		}
		h.ServeHTTP(w, r)
	})
}

func TestUsersAreAskedForTheirNameAndGuessersSlowedDown(t *testing.T) {
	g := newGated(t, "")
	gate := web.NewGate(g.api, "", []string{"status"}, slog.New(slog.DiscardHandler))
	gate.WithUsers(users(g.api))
	g.gate = web.Harden(gate)
	as := func(password string) func(*http.Request) {
		return func(q *http.Request) { q.SetBasicAuth("gardener", password) }
	}
	assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status").Code, "left open")
	w := g.ask("GET", "/api/v1/diary")
	assert.Equal(t, http.StatusUnauthorized, w.Code)
	assert.Equal(t, "Basic", w.Header().Get("WWW-Authenticate"), "so that a browser asks")
	for range 100 {
		require.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/diary").Code, "who gives no name guesses nothing")
	}
	for range 100 {
		require.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/diary", as("watering can")).Code)
	}
	for range web.FailuresAtOnce {
		require.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/diary", as("guess")).Code)
	}
	assert.Equal(t, http.StatusTooManyRequests, g.ask("GET", "/api/v1/diary", as("watering can")).Code)
}

func TestAnswersTellBrowsersToKeepThemToThemselves(t *testing.T) {
	g := newGated(t, token)
	for _, w := range []*httptest.ResponseRecorder{g.ask("GET", "/api/v1/status"), g.ask("GET", "/api/v1/status", bearer(token)), g.ask("GET", "/nowhere")} {
		h := w.Header()
		assert.Contains(t, h.Get("Content-Security-Policy"), "default-src 'none'")
		assert.NotContains(t, h.Get("Content-Security-Policy"), "unsafe")
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"))
		assert.Equal(t, "DENY", h.Get("X-Frame-Options"))
		assert.Equal(t, "same-origin", h.Get("Cross-Origin-Resource-Policy"))
		assert.Equal(t, "no-referrer", h.Get("Referrer-Policy"))
		assert.Empty(t, h.Get("Access-Control-Allow-Origin"))
	}
}

func TestAStreamFlowsThroughTheGate(t *testing.T) {
	g := newGated(t, "")
	gate := web.NewGate(g.api, "", nil, slog.New(slog.DiscardHandler))
	gate.WithUsers(users(g.api))
	server := httptest.NewServer(gate)
	defer server.Close()
	defer g.api.Close()
	q, err := http.NewRequest("GET", server.URL+"/api/v1/events", nil)
	require.NoError(t, err)
	q.SetBasicAuth("gardener", "watering can")
	response, err := http.DefaultClient.Do(q)
	require.NoError(t, err)
	defer response.Body.Close()
	first := make([]byte, len("event: status\n"))
	_, err = io.ReadFull(response.Body, first)
	require.NoError(t, err)
	assert.Equal(t, "event: status\n", string(first))
}
