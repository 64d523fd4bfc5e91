package web

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"net/http"
	"time"
)

// A session is a cookie that says until when it holds, sealed with the token: it
// outlasts the program, and a new token ends them all. No script can read it and
// no other site's page can have it sent.
const (
	sessionCookie = "benchtide_session"
	sessionFor    = 30 * 24 * time.Hour
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
	c, err := r.Cookie(sessionCookie)
	if err != nil {
		return false
	}
	data, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || len(data) < 8 {
		return false
	}
	until := time.Unix(int64(binary.BigEndian.Uint64(data)), 0)
	return hmac.Equal(data, g.seal(until)) && time.Now().Before(until)
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

// beginSession answers who has shown the token with a cookie that stands for it.
func beginSession(w http.ResponseWriter, r *http.Request) error {
	g := gateOf(r)
	if g == nil || g.token == nil {
		return Refused{Reason: "there is no token here: nothing to log in with"}
	}
	until := time.Now().Add(sessionFor)
	setSession(w, r, base64.RawURLEncoding.EncodeToString(g.seal(until)), until)
	reply(w, Done{Done: "logged in for 30 days on this device"})
	return nil
}

func endSession(w http.ResponseWriter, r *http.Request) error {
	setSession(w, r, "", time.Unix(1, 0))
	reply(w, Done{Done: "logged out on this device"})
	return nil
}

func setSession(w http.ResponseWriter, r *http.Request, value string, until time.Time) {
	http.SetCookie(w, &http.Cookie{
		Name: sessionCookie, Value: value, Path: "/", Expires: until,
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	})
}
