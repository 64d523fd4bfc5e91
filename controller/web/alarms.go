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

func (a *API) acknowledge(w http.ResponseWriter, r *http.Request) error {
	q, err := body[AcknowledgeRequest](w, r)
	if err != nil {
		return err
	}
	if q.Alarm < 0 {
		return live.Invalid{Reason: fmt.Sprintf("alarm: %d: give the number of an alarm, or 0 for all", q.Alarm)}
	}
	if err := a.Messages.Acknowledge(q.Alarm, q.By); err != nil {
		return err
	}
	what := fmt.Sprintf("alarm %d is", q.Alarm)
	if q.Alarm == 0 {
		what = "every alarm is"
	}
	reply(w, Done{Done: what + " acknowledged and silent; nothing is reset"})
	return nil
}

func (a *API) shelve(w http.ResponseWriter, r *http.Request) error {
	q, err := body[ShelveRequest](w, r)
	if err != nil {
		return err
	}
	if err := numbered(q.Alarm); err != nil {
		return err
	}
	if strings.TrimSpace(q.Until) == "" {
		if err := a.Messages.Shelve(q.Alarm, 0, q.By); err != nil {
			return err
		}
		reply(w, Done{Done: fmt.Sprintf("alarm %d is back from the shelf", q.Alarm)})
		return nil
	}
	now, until, err := a.until(r, q.Until)
	if err != nil {
		return err
	}
	if !until.After(now) {
		return live.Invalid{Reason: fmt.Sprintf("until: %q is past: give a time to come", q.Until)}
	}
	if err := a.Messages.Shelve(q.Alarm, until.Sub(now), q.By); err != nil {
		return err
	}
	reply(w, Done{
		fmt.Sprintf("alarm %d is silent until %s, and told anew if it still stands then", q.Alarm, until.In(a.Zone).Format(dayAndTime)),
		&Undo{"shelve", ShelveRequest{Alarm: q.Alarm}, "take it from the shelf"},
	})
	return nil
}

func (a *API) service(w http.ResponseWriter, r *http.Request) error {
	q, err := body[ServiceRequest](w, r)
	if err != nil {
		return err
	}
	if err := numbered(q.Alarm); err != nil {
		return err
	}
	if err := a.Messages.Service(q.Alarm, q.Out, q.By); err != nil {
		return err
	}
	if !q.Out {
		reply(w, Done{Done: fmt.Sprintf("alarm %d is in service", q.Alarm)})
		return nil
	}
	reply(w, Done{
		fmt.Sprintf("alarm %d is out of service until somebody puts it back; every digest says so", q.Alarm),
		&Undo{"service", ServiceRequest{Alarm: q.Alarm}, "put it back into service"},
	})
	return nil
}

func numbered(id int64) error {
	if id < 1 {
		return live.Invalid{Reason: fmt.Sprintf("alarm: %d: give the number of an alarm", id)}
	}
	return nil
}

func (a *API) testMessage(w http.ResponseWriter, r *http.Request) error {
	if _, err := body[TestRequest](w, r); err != nil {
		return err
	}
	n, err := a.Messages.Test()
	if err != nil {
		return err
	}
	reply(w, Done{Done: fmt.Sprintf("a test message is on its way by %d ways; each holds a code that wants to be confirmed", n)})
	return nil
}

func (a *API) confirm(w http.ResponseWriter, r *http.Request) error {
	q, err := body[ConfirmRequest](w, r)
	if err != nil {
		return err
	}
	if strings.TrimSpace(q.Code) == "" {
		return live.Invalid{Reason: "code: give the code of the test message"}
	}
	channel, err := a.Messages.Confirm(q.Code)
	if err != nil {
		return err
	}
	reply(w, Done{Done: "messages by " + channel + " are confirmed"})
	return nil
}
