package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"time"

	"benchtide/controller"
	"benchtide/controller/live"
)

// Problem is the answer to a request that could not be met, as RFC 9457
// describes it.
type Problem struct {
	Title     string  `json:"title"`
	Status    int     `json:"status"`
	Detail    string  `json:"detail"`              // why, and what to do
	Interlock string  `json:"interlock,omitempty"` // that refused
	Latched   bool    `json:"latched,omitempty"`
	Until     *string `json:"until,omitempty"` // when it may pass by itself
	Needs     string  `json:"needs,omitempty"` // the key of the request without which it is refused

	Questions []string `json:"questions,omitempty"` // to answer before asking again
}

// problemOf turns an error into an answer.
func problemOf(err error, zone *time.Location) Problem {
	var refused live.Refused
	var invalid live.Invalid
	var silent Unanswered
	var big *http.MaxBytesError
	var many tooMany
	switch {
	case errors.As(err, &silent):
		return silent.problem()
	case errors.As(err, &refused):
		return Problem{
			Title: "refused", Status: http.StatusConflict, Detail: refused.Reason,
			Interlock: refused.Interlock, Latched: refused.Latched, Until: controller.StampOrNil(refused.Until, zone), Needs: refused.Needs,
			Questions: refused.Questions,
		}
	case errors.As(err, &invalid):
		return Problem{Title: "invalid request", Status: http.StatusBadRequest, Detail: invalid.Reason}
	case errors.As(err, &big):
		return Problem{Title: "too large", Status: http.StatusRequestEntityTooLarge, Detail: err.Error()}
	case errors.As(err, &many):
		return many.problem()
	case errors.Is(err, live.ErrUnavailable):
		return Problem{Title: "unavailable", Status: http.StatusServiceUnavailable, Detail: err.Error()}
	}
	return Problem{Title: "the record cannot be used", Status: http.StatusServiceUnavailable, Detail: err.Error()}
}

// tooMany says that others hold what there is for a request of this kind. It
// tells nothing of the controller, which answers.
type tooMany struct{ reason string }

func (t tooMany) Error() string { return t.reason }

func (t tooMany) problem() Problem {
	return Problem{Title: "too many at once", Status: http.StatusServiceUnavailable, Detail: t.reason}
}

func (p Problem) write(w http.ResponseWriter) {
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(p.Status)
	encode(w, p)
}

// reply answers with JSON.
func reply(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	encode(w, v)
}

// answer replies with what may be long. It is encoded in a seat, and read outside
// of it by whoever asked, however slowly.
func (a *API) answer(w http.ResponseWriter, v any) {
	var b bytes.Buffer
	a.seats.take(func() { encode(&b, v) })
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(b.Bytes()) // a reader that has gone cannot be told of it
}

// encode writes v; a reader that has gone cannot be told of it.
func encode(w io.Writer, v any) {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	_ = e.Encode(v)
}
