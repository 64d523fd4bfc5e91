package web_test

import (
	"context"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/controller"
	"benchtide/controller/live"
)

// far is a request from another machine.
var far = from("192.0.2.7:40000")

// calm is a rig without hands-in.
func calm(t *testing.T) (*rig, *live.Status) {
	r, s := newRig(t), well()
	r.site.shown = &s
	return r, &s
}

func TestAFloodFromFarNeedsTheWordThatNobodyWorksInTheBench(t *testing.T) {
	socket := func(q *http.Request) {
		far(q)
		*q = *q.WithContext(context.WithValue(q.Context(), http.LocalAddrContextKey, &net.UnixAddr{Name: "s"}))
	}
	proxied := func(q *http.Request) { q.Header.Set("X-Forwarded-For", "192.0.2.7") }
	forwarded := func(q *http.Request) { q.Header.Set("Forwarded", "for=192.0.2.7") } // RFC 7239
	for name, c := range map[string]struct {
		who  func(*http.Request)
		body string
		code int
	}{
		"from the machine":          {from("127.0.0.1:1"), `{"bench":"north"}`, 200},
		"by IPv6":                   {from("[::1]:1"), `{"bench":"north"}`, 200},
		"by the socket":             {socket, `{"bench":"north"}`, 200},
		"from far":                  {far, `{"bench":"north"}`, 409},
		"from far, with the word":   {far, `{"bench":"north","proof":true}`, 200},
		"from far, with the denial": {far, `{"bench":"north","proof":false}`, 409},
		"by a proxy":                {proxied, `{"bench":"north"}`, 409},
		"by one of the standard":    {forwarded, `{"bench":"north"}`, 409},
	} {
		t.Run(name, func(t *testing.T) {
			r, _ := calm(t)
			w := r.request("POST", "/flood", c.body, c.who)
			assert.Equal(t, c.code, w.Code, w.Body.String())
			if c.code == 409 {
				assert.Equal(t, "proof", problem(t, w).Needs)
				assert.Empty(t, r.site.acts)
			}
		})
	}
}

func TestUnderHandsInTheGuardsOwnReasonIsGiven(t *testing.T) {
	r, s := calm(t)
	s.HandsIn = true
	r.site.err = live.Refused{Interlock: "hands-in", Reason: "flood north: hands-in"}
	w := r.request("POST", "/flood", `{"bench":"north"}`, far)
	assert.Equal(t, "hands-in", problem(t, w).Interlock)
}

func TestHandsInIsEndedFromFarOnlyWithTheWord(t *testing.T) {
	r, _ := calm(t)
	assert.Equal(t, http.StatusConflict, r.request("POST", "/hands-in", `{"on":false}`, far).Code)
	assert.Equal(t, http.StatusOK, r.request("POST", "/hands-in", `{"on":false,"proof":true}`, far).Code)
	assert.Equal(t, http.StatusOK, r.request("POST", "/hands-in", `{"on":true}`, far).Code, "to begin it is everybody's")
	assert.Equal(t, http.StatusOK, r.request("POST", "/hands-in", `{"on":false}`).Code)
}

func TestAStopAtTheBenchWins(t *testing.T) {
	for name, stop := range map[string]func(r *rig){
		"stop": func(r *rig) { r.request("POST", "/stop", `{"bench":"north"}`) },
		"hands-in": func(r *rig) {
			r.request("POST", "/hands-in", `{"on":true}`)
			r.request("POST", "/hands-in", `{"on":false}`)
		},
		"stop with nothing to end": func(r *rig) {
			r.site.err = live.Refused{Reason: "no"}
			r.request("POST", "/stop", `{"bench":"north"}`)
			r.site.err = nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			r, s := calm(t)
			flood := func(who func(*http.Request)) int {
				return r.request("POST", "/flood", `{"bench":"north","proof":true}`, who).Code
			}
			later := func(d time.Duration) { s.At = controller.Stamp(noon.Add(d), time.UTC) }
			assert.Equal(t, http.StatusOK, flood(far))
			stop(r)
			w := r.request("POST", "/flood", `{"bench":"north","proof":true}`, far)
			p := problem(t, w)
			assert.Contains(t, p.Detail, "ask there, or wait")
			assert.Equal(t, "2026-03-12T12:30:00+00:00", *p.Until)
			assert.Equal(t, http.StatusOK, flood(from("127.0.0.1:1")), "who is near decides")
			later(29 * time.Minute)
			assert.Equal(t, http.StatusConflict, flood(far))
			later(-time.Hour)
			assert.Equal(t, http.StatusOK, flood(far), "a clock that was set back holds nobody")
			later(30 * time.Minute)
			assert.Equal(t, http.StatusOK, flood(far))
		})
	}
}

func TestAStopFromFarNeedsNothingAndHoldsNobody(t *testing.T) {
	r, _ := calm(t)
	assert.Equal(t, http.StatusOK, r.request("POST", "/stop", `{"bench":"north"}`, far).Code)
	assert.Equal(t, http.StatusOK, r.request("POST", "/flood", `{"bench":"north","proof":true}`, far).Code)
}
