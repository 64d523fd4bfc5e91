package web_test

import (
	"context"
	"net"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller"
	"benchtide/controller/live"
)

// far is a request from another machine.
var far = from("192.0.2.7:40000")

func TestWhoAsksFromAnotherMachineIsFar(t *testing.T) {
	socket := func(q *http.Request) {
		far(q)
		*q = *q.WithContext(context.WithValue(q.Context(), http.LocalAddrContextKey, &net.UnixAddr{Name: "s"}))
	}
	proxied := func(q *http.Request) { q.Header.Set("X-Forwarded-For", "192.0.2.7") }
	forwarded := func(q *http.Request) { q.Header.Set("Forwarded", "for=192.0.2.7") } // RFC 7239
	for name, c := range map[string]struct {
		who func(*http.Request)
		far bool
	}{
		"from the machine":       {from("127.0.0.1:1"), false},
		"by IPv6":                {from("[::1]:1"), false},
		"by the socket":          {socket, false},
		"from far":               {far, true},
		"by a proxy":             {proxied, true},
		"by one of the standard": {forwarded, true},
	} {
		for path, body := range map[string]string{
			"/flood": `{"bench":"north"}`, "/stop": `{"bench":"north"}`, "/hands-in": `{"on":false}`,
		} {
			r := newRig(t)
			assert.Equal(t, http.StatusOK, r.request("POST", path, body, c.who).Code, name+path)
			assert.Equal(t, controller.Asker{Far: c.far}, r.site.by, name+path)
		}
		for path, body := range map[string]string{
			"/flood": `{"bench":"north","proof":true}`, "/hands-in": `{"on":false,"proof":true}`,
		} {
			r := newRig(t)
			r.request("POST", path, body, c.who)
			assert.Equal(t, controller.Asker{Far: c.far, Sure: true}, r.site.by, name+path)
		}
	}
}

func TestWhoHasToBeSureIsToldTheWord(t *testing.T) {
	r := newRig(t)
	r.site.err = live.Refused{Reason: "make sure", Needs: "proof"}
	w := r.request("POST", "/flood", `{"bench":"north"}`, far)
	assert.Equal(t, http.StatusConflict, w.Code)
	assert.Equal(t, "proof", problem(t, w).Needs)
}
