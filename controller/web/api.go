package web

import (
	_ "embed"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"benchtide/controller/live"
)

//go:embed openapi.json
var description []byte

// prefix is where the API begins.
const prefix = "/api/v1/"

// Options are what an API is made of.
type Options struct {
	Site     Site
	Record   Record
	Messages Messages
	Zone     *time.Location
	Facts    live.Facts
}

// API answers the requests. It is an http.Handler, to be put at /api/v1/.
type API struct {
	Options
	routes map[string]methods // by path
	hub    *hub
	seats  seats
}

type handler func(w http.ResponseWriter, r *http.Request) error

// methods are the handlers of one path.
type methods map[string]handler

// New returns an API that serves until Close.
func New(o Options) *API {
	a := &API{Options: o, seats: newSeats()}
	a.hub = newHub(o.Site.Status, a.seats)
	a.routes = a.reads()
	maps.Copy(a.routes, a.acts())
	return a
}

// reads are the routes that ask; the session and the diary are also written to.
func (a *API) reads() map[string]methods {
	return map[string]methods{
		"overview":     {"GET": newTogether(a.overview).plain},
		"status":       {"GET": newTogether(a.status).plain},
		"benches":      {"GET": a.benches},
		"ledger":       {"GET": a.ledger},
		"trips":        {"GET": a.trips},
		"calendar":     {"GET": a.calendar},
		"outlook":      {"GET": a.outlook},
		"series":       {"GET": a.series},
		"events":       {"GET": a.hub.serve},
		"export":       {"GET": a.export},
		"backup":       {"GET": a.backup},
		"openapi.json": {"GET": describe},
		"session":      {"GET": sessionState, "POST": beginSession, "DELETE": endSession},
		"diary":        {"GET": a.diary, "POST": act(a.addDiary)},
		"alarms":       {"GET": a.alarms},
	}
}

// acts are the routes that do something.
func (a *API) acts() map[string]methods {
	return map[string]methods{
		"flood":        {"POST": actOn(a.bench, a.flood)},
		"stop":         {"POST": actOn(a.bench, a.stop)},
		"pause":        {"POST": act(a.pause)},
		"resume":       {"POST": act(a.resume)},
		"hands-in":     {"POST": act(a.handsIn)},
		"reset":        {"POST": actOn(a.bench, a.reset)},
		"drop":         {"POST": act(a.drop)},
		"skip-next":    {"POST": actOn(a.bench, a.skipNext)},
		"undo-skip":    {"POST": actOn(a.bench, a.undoSkip)},
		"sanitise":     {"POST": actOn(a.bench, a.sanitise)},
		"rinsed":       {"POST": actOn(a.bench, a.rinsed)},
		"advance":      {"POST": actOn(a.batch, a.advance)},
		"close":        {"POST": actOn(a.batch, a.closeBatch)},
		"empty":        {"POST": actOn(a.bench, a.empty)},
		"took-out":     {"POST": actOn(a.reservoir, a.tookOut)},
		"topped-up":    {"POST": actOn(a.reservoir, a.toppedUp)},
		"acknowledge":  {"POST": act(a.acknowledge)},
		"shelve":       {"POST": act(a.shelve)},
		"service":      {"POST": act(a.service)},
		"test-message": {"POST": act(a.testMessage)},
		"confirm":      {"POST": act(a.confirm)},
	}
}

// Publish passes an event on to who listens. It never waits.
func (a *API) Publish(e live.Event) { a.hub.publish(e) }

// Close ends the event streams.
func (a *API) Close() { a.hub.close() }

// actHeader is on every act: no form of another site's page can send it.
const (
	actHeader = "X-Benchtide"
	actValue  = "act"
)

// ServeHTTP answers one request; what it refuses it says as a problem in JSON.
func (a *API) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	path, _ := strings.CutPrefix(r.URL.Path, prefix)
	route, ok := a.routes[path]
	if !ok {
		Problem{Title: "not found", Status: http.StatusNotFound, Detail: fmt.Sprintf("there is no %q; %sopenapi.json lists what there is", r.URL.Path, prefix)}.write(w)
		return
	}
	method := r.Method
	if method == http.MethodHead {
		method = http.MethodGet
	}
	handle, ok := route[method]
	if !ok {
		allowed := strings.Join(slices.Sorted(maps.Keys(route)), ", ")
		w.Header().Set("Allow", allowed)
		Problem{Title: "method not allowed", Status: http.StatusMethodNotAllowed, Detail: fmt.Sprintf("%s takes %s", r.URL.Path, allowed)}.write(w)
		return
	}
	if method != http.MethodGet && r.Header.Get(actHeader) != actValue {
		Problem{Title: "forbidden", Status: http.StatusForbidden, Detail: fmt.Sprintf("an act needs the header %s: %s", actHeader, actValue)}.write(w)
		return
	}
	if err := handle(w, r); err != nil {
		problemOf(err, a.Zone).write(w)
	}
}

func describe(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(description)
	return nil
}
