package web

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"net/http"
	"time"

	"benchtide/controller/live"
)

// A session is a cookie that says until when it holds, sealed with the token: it
// outlasts the program, and a new token ends them all. No script can read it and
// no other site's page can have it sent. It ends 30 days after the log-in: only
// another log-in, with the token, begins one that ends later.
const (
	sessionCookie = "benchtide_session"
	sessionFor    = 30 * 24 * time.Hour
	clockErrs     = 24 * time.Hour // a session that ends later than a log-in now could make it, by more than this, is of a clock that was wrong
)

// SessionState says whether a browser has to log in.
type SessionState struct {
	Needed bool `json:"needed"` // a token
	Have   bool `json:"have"`
}

// seal is what a session until then carries.
func (g *Gate) seal(until time.Time) []byte {
	data := binary.BigEndian.AppendUint64(nil, uint64(until.Unix()))
	mac := hmac.New(sha256.New, g.token[:])
	mac.Write([]byte(sessionCookie))
	mac.Write(data)
	return mac.Sum(data)
}

// session reports whether a request has a session that holds.
func (g *Gate) session(r *http.Request) bool {
	_, ok := g.sessionUntil(r)
	return ok
}

// sessionUntil is when the session of a request ends; not ok when it has none
// that holds.
func (g *Gate) sessionUntil(r *http.Request) (until time.Time, ok bool) {
	c, err := r.Cookie(sessionCookie)
	if err != nil {
		return until, false
	}
	data, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || len(data) < 8 {
		return until, false
	}
	until = time.Unix(int64(binary.BigEndian.Uint64(data)), 0)
	left := time.Until(until)
	return until, hmac.Equal(data, g.seal(until)) && left > 0 && left <= sessionFor+clockErrs
}

func sessionState(w http.ResponseWriter, r *http.Request) error {
	if _, err := parameters(r); err != nil {
		return err
	}
	g := gateOf(r)
	needed := g != nil && g.token != nil
	reply(w, SessionState{Needed: needed, Have: !needed || g.session(r)})
	return nil
}

// beginSession answers who has shown the token with a cookie that stands for it,
// and who has only a session with that one: it is not made longer.
func beginSession(w http.ResponseWriter, r *http.Request) error {
	g := gateOf(r)
	if g == nil || g.token == nil {
		return live.Refused{Reason: "there is no token here: nothing to log in with"}
	}
	until, done := time.Now().Add(sessionFor), "logged in for 30 days on this device"
	if r.Header.Get("Authorization") == "" {
		if has, ok := g.sessionUntil(r); ok {
			until, done = has, "logged in already on this device; the 30 days since the log-in go on, and only the token begins new ones"
		}
	}
	setSession(w, r, base64.RawURLEncoding.EncodeToString(g.seal(until)), time.Until(until))
	reply(w, Done{Done: done})
	return nil
}

func endSession(w http.ResponseWriter, r *http.Request) error {
	setSession(w, r, "", -time.Second)
	reply(w, Done{Done: "logged out on this device"})
	return nil
}

// setSession has a browser keep a cookie for so long by its own clock: ours may
// be wrong.
func setSession(w http.ResponseWriter, r *http.Request, value string, keep time.Duration) {
	http.SetCookie(w, &http.Cookie{
		Name: sessionCookie, Value: value, Path: "/", MaxAge: int(keep.Round(time.Second).Seconds()),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	})
}
