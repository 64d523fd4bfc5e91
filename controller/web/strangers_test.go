package web_test

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/web"
)

// slow is a client that reads nothing of a good answer until the end.
type slow struct {
	*httptest.ResponseRecorder
	answered chan int // with this code; has room for one
	end      <-chan struct{}
}

func (s *slow) Write(p []byte) (int, error) {
	select {
	case s.answered <- s.Code:
	default:
	}
	if s.Code == http.StatusOK {
		<-s.end
	}
	return len(p), nil
}

// linger opens requests that stay under way until the end of a test, and
// returns how many of them were refused.
func linger(t *testing.T, h http.Handler, n int, path string, change ...func(*http.Request)) (refused int) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	var all sync.WaitGroup
	t.Cleanup(func() { cancel(); all.Wait() })
	answered := make(chan int)
	for range n {
		q := httptest.NewRequest("GET", "http://192.0.2.9:8347"+path, nil).WithContext(ctx)
		q.RemoteAddr = "192.0.2.7:40000"
		for _, f := range change {
			f(q)
		}
		w := &slow{httptest.NewRecorder(), make(chan int, 1), ctx.Done()}
		all.Go(func() { h.ServeHTTP(w, q) })
		go func() { answered <- <-w.answered }()
	}
	for range n {
		if <-answered != http.StatusOK {
			refused++
		}
	}
	return refused
}

func TestStreamsAreKeptForWhoIsLoggedIn(t *testing.T) {
	g := newGated(t, token, "status")
	cookie := g.login()
	assert.Zero(t, linger(t, g.gate, web.MostOpen, "/api/v1/events"))
	w := g.ask("GET", "/api/v1/events")
	assert.Equal(t, http.StatusServiceUnavailable, w.Code)
	p := problem(t, w)
	assert.Contains(t, p.Detail, "too many are listening without a log-in")
	assert.NotContains(t, p.Detail, "not answer", "the controller does")
	assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status").Code)
	assert.Zero(t, linger(t, g.gate, (web.MostClients-web.MostOpen)/2, "/api/v1/events", with(cookie)), "a session")
	assert.Zero(t, linger(t, g.api, (web.MostClients-web.MostOpen)/2, "/api/v1/events"), "this machine, by its socket")
	w = g.ask("GET", "/api/v1/events", with(cookie))
	assert.Equal(t, http.StatusServiceUnavailable, w.Code)
	assert.Contains(t, problem(t, w).Detail, "too many are listening: 256")
	assert.Equal(t, http.StatusOK, g.ask("POST", "/api/v1/flood", with(cookie)).Code, "acts go on")
}

func TestAStrangersStreamThatEndsGivesItsPlaceBack(t *testing.T) {
	g := newGated(t, token, "status")
	for range 3 {
		t.Run("again", func(t *testing.T) { assert.Zero(t, linger(t, g.gate, web.MostOpen, "/api/v1/events")) })
	}
}

func TestStrangersAreAnsweredAFewAtATime(t *testing.T) {
	g := newGated(t, token, "status", "metrics")
	cookie := g.login()
	assert.Zero(t, linger(t, g.gate, web.StrangersAtOnce, "/api/v1/benches"), "slow readers")
	for _, path := range []string{"/api/v1/status", "/metrics"} {
		w := g.ask("GET", path)
		assert.Equal(t, http.StatusServiceUnavailable, w.Code, path)
		assert.Contains(t, problem(t, w).Detail, "too many ask at once without a log-in")
	}
	assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", with(cookie)).Code)
	assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", bearer(token)).Code)
	assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/session").Code, "the page's question whether to log in")
}

func TestAStrangersAnswerThatEndsGivesItsPlaceBack(t *testing.T) {
	g := newGated(t, token, "status")
	for range 3 {
		t.Run("again", func(t *testing.T) { assert.Zero(t, linger(t, g.gate, web.StrangersAtOnce, "/api/v1/benches")) })
	}
	for range 2*web.StrangersAtOnce + 1 {
		require.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status").Code)
	}
}

func TestANameThatIsGivenHasToBeRightAlsoWhereNoneIsNeeded(t *testing.T) {
	g := newGated(t, token, "status")
	assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", bearer("guess")).Code)
	assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", bearer(token)).Code)
}

func TestASessionEndsThirtyDaysAfterTheLogInHoweverOftenItIsUsed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newGated(t, token)
		g.api.Close() // its streams would beat for a month
		cookie := g.login()
		for range 29 {
			time.Sleep(24 * time.Hour)
			w := g.ask("POST", "/api/v1/session", with(cookie))
			require.Equal(t, http.StatusOK, w.Code)
			assert.Contains(t, w.Body.String(), "logged in already")
			cookie = w.Result().Cookies()[0]
		}
		assert.LessOrEqual(t, cookie.MaxAge, 24*60*60)
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", with(cookie)).Code)
		assert.Equal(t, http.StatusUnauthorized, g.ask("POST", "/api/v1/session", with(cookie), bearer("guess")).Code, "a session is no name")
		again := g.ask("POST", "/api/v1/session", with(cookie), bearer(token)).Result().Cookies()[0]
		time.Sleep(25 * time.Hour)
		assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", with(cookie)).Code)
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", with(again)).Code, "another log-in begins another")
	})
}

func TestASessionOfAClockFarAheadIsNone(t *testing.T) {
	var ahead *http.Cookie
	synctest.Test(t, func(t *testing.T) { // from the year 2000 on
		g := newGated(t, token)
		g.api.Close()
		time.Sleep(100 * 24 * time.Hour)
		ahead = g.login()
		assert.Equal(t, http.StatusOK, g.ask("GET", "/api/v1/status", with(ahead)).Code)
	})
	synctest.Test(t, func(t *testing.T) {
		g := newGated(t, token)
		g.api.Close()
		assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", with(ahead)).Code, "it would hold for 130 days")
	})
}

func TestARequestHasFewHeaderFields(t *testing.T) {
	g := newGated(t, token)
	many := func(n int) func(*http.Request) {
		return func(q *http.Request) {
			clear(q.Header)
			for i := range n {
				q.Header.Set("X-"+string(rune('A'+i/26))+string(rune('A'+i%26)), "")
			}
		}
	}
	assert.Equal(t, http.StatusUnauthorized, g.ask("GET", "/api/v1/status", many(web.MostFields)).Code)
	w := g.ask("GET", "/api/v1/status", many(web.MostFields+1))
	assert.Equal(t, http.StatusRequestHeaderFieldsTooLarge, w.Code)
	assert.Contains(t, problem(t, w).Detail, "send at most 64")
}

func TestComplaintsAreFewHoweverManyConnectionsFail(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var told bytes.Buffer
		complain := web.Complaints(slog.New(slog.NewTextHandler(&told, nil)))
		for range 1000 {
			complain.Printf("http: TLS handshake error from %s: %s", "192.0.2.7:1", "EOF\nlevel=ERROR msg=forged")
		}
		assert.Equal(t, 10, strings.Count(told.String(), "\n"))
		time.Sleep(time.Hour)
		complain.Print("again")
		assert.Equal(t, 11, strings.Count(told.String(), "\n"))
	})
}
