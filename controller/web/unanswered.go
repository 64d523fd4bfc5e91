package web

import (
	"errors"
	"net/http"

	"benchtide/controller/live"
)

// Unanswered is an act of which nobody can say that it was done. What its asker
// is to do differs: who stopped a pump reaches in next, who started one waits
// for water.
type Unanswered struct {
	Reason string
	Known  bool // that it was not done, and never will be
}

func (u Unanswered) Error() string { return u.Reason }

// problem is 503 for what was surely not done, and may be asked again, else 504:
// this server waited in vain for what is behind it (RFC 9110, section 15.6).
func (u Unanswered) problem() Problem {
	if u.Known {
		return Problem{Title: "not done", Status: http.StatusServiceUnavailable, Detail: u.Reason}
	}
	return Problem{Title: "not known whether it was done", Status: http.StatusGatewayTimeout, Detail: u.Reason}
}

// reachIn is for whoever asked for a stop and does not know that it came.
const reachIn = ": switch the supply off, dry-handed, before you reach in"

// ofStop words what came of an act after which a hand goes into the bench.
func ofStop(err error) error {
	return unanswered(err, "not known whether it stopped"+reachIn, "not stopped, since the controller does not answer"+reachIn)
}

// ofPause words what came of an act that keeps planned floods off.
func ofPause(err error) error {
	return unanswered(err, "not known whether planned floods are off: see how the bench stands, and ask again", "not done: the controller does not answer; planned floods go on")
}

// ofStart words what came of an act that starts water, or may let it start.
func ofStart(err error) error {
	return unanswered(err, "not known whether it was done: see how the bench stands before you ask again", "not done: the controller does not answer")
}

// ofWord words what came of a word that changes no output.
func ofWord(err error) error {
	return unanswered(err, "not known whether it was heard: say it again, it is booked once", "not heard: the controller does not answer; say it again later")
}

func unanswered(err error, notKnown, notDone string) error {
	switch {
	case errors.Is(err, live.ErrNotKnown):
		return Unanswered{Reason: notKnown}
	case errors.Is(err, live.ErrUnavailable):
		return Unanswered{Reason: notDone, Known: true}
	}
	return err
}
