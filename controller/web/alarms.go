package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"benchtide/controller/live"
)

// Messages are the alarms of the site and the channels by which people are told of
// them. Errors are a Refused.
type Messages interface {
	Alarms(context.Context) (live.Alarms, error)
	// Acknowledge silences an alarm, or all for 0; it resets nothing.
	Acknowledge(id int64, by string) error
	// Shelve keeps an alarm silent for a time; 0 ends that.
	Shelve(id int64, d time.Duration, by string) error
	Service(id int64, out bool, by string) error
	// Test sends a message that wants an answer and returns by how many channels.
	Test() (int, error)
	// Confirm takes such an answer and returns by which channel it came.
	Confirm(code string) (string, error)
}

// AcknowledgeRequest says that a person knows of an alarm, or of all without one.
type AcknowledgeRequest struct {
	Alarm int64  `json:"alarm"`
	By    string `json:"by"`
}

// ShelveRequest keeps an alarm silent until a time; without one it is taken
// from the shelf.
type ShelveRequest struct {
	Alarm int64  `json:"alarm"`
	Until string `json:"until"` // as parseTime reads it
	By    string `json:"by"`
}

// ServiceRequest takes an alarm out of service, or puts it back.
type ServiceRequest struct {
	Alarm int64  `json:"alarm"`
	Out   bool   `json:"out"`
	By    string `json:"by"`
}

// TestRequest sends a test message.
type TestRequest struct{}

// ConfirmRequest answers one.
type ConfirmRequest struct {
	Code string `json:"code"`
}

func (a *API) alarms(w http.ResponseWriter, r *http.Request) error {
	if _, err := parameters(r); err != nil {
		return err
	}
	all, err := a.Messages.Alarms(r.Context())
	if err != nil {
		return err
	}
	reply(w, all)
	return nil
}

func (a *API) acknowledge(_ *http.Request, q AcknowledgeRequest) (Done, error) {
	if q.Alarm < 0 {
		return Done{}, live.Invalid{Reason: fmt.Sprintf("alarm: %d: give the number of an alarm, or 0 for all", q.Alarm)}
	}
	what := fmt.Sprintf("alarm %d is", q.Alarm)
	if q.Alarm == 0 {
		what = "every alarm is"
	}
	return Done{Done: what + " acknowledged and silent; nothing is reset"}, a.Messages.Acknowledge(q.Alarm, q.By)
}

func (a *API) shelve(r *http.Request, q ShelveRequest) (Done, error) {
	if err := numbered(q.Alarm); err != nil {
		return Done{}, err
	}
	if strings.TrimSpace(q.Until) == "" {
		return Done{Done: fmt.Sprintf("alarm %d is back from the shelf", q.Alarm)}, a.Messages.Shelve(q.Alarm, 0, q.By)
	}
	now, until, err := a.until(r, q.Until)
	if err != nil {
		return Done{}, err
	}
	if !until.After(now) {
		return Done{}, live.Invalid{Reason: fmt.Sprintf("until: %q is past: give a time to come", q.Until)}
	}
	return Done{
		fmt.Sprintf("alarm %d is silent until %s, and told anew if it still stands then", q.Alarm, until.In(a.Zone).Format(dayAndTime)),
		&Undo{"shelve", ShelveRequest{Alarm: q.Alarm}, "take it from the shelf"},
	}, a.Messages.Shelve(q.Alarm, until.Sub(now), q.By)
}

func (a *API) service(_ *http.Request, q ServiceRequest) (Done, error) {
	if err := numbered(q.Alarm); err != nil {
		return Done{}, err
	}
	done := Done{Done: fmt.Sprintf("alarm %d is in service", q.Alarm)}
	if q.Out {
		done = Done{
			fmt.Sprintf("alarm %d is out of service until somebody puts it back; every digest says so", q.Alarm),
			&Undo{"service", ServiceRequest{Alarm: q.Alarm}, "put it back into service"},
		}
	}
	return done, a.Messages.Service(q.Alarm, q.Out, q.By)
}

func numbered(id int64) error {
	if id < 1 {
		return live.Invalid{Reason: fmt.Sprintf("alarm: %d: give the number of an alarm", id)}
	}
	return nil
}

func (a *API) testMessage(*http.Request, TestRequest) (Done, error) {
	n, err := a.Messages.Test()
	return Done{Done: fmt.Sprintf("a test message is on its way by %d ways; each holds a code that wants to be confirmed", n)}, err
}

func (a *API) confirm(_ *http.Request, q ConfirmRequest) (Done, error) {
	if strings.TrimSpace(q.Code) == "" {
		return Done{}, live.Invalid{Reason: "code: give the code of the test message"}
	}
	channel, err := a.Messages.Confirm(q.Code)
	return Done{Done: "messages by " + channel + " are confirmed"}, err
}
