package live

import (
	"errors"
	"time"

	"benchtide/controller/ledger"
)

// Query says which rows are wanted.
type Query = ledger.Query

// Note is an entry for the diary.
type Note struct {
	At    time.Time
	Place string // a bench, a reservoir or a batch; empty for the site
	Kind  string
	Value *float64
	Text  string
	Sure  bool      // its writer has answered what there is to ask about it
	Now   time.Time // when it was written
}

// Refused is an act that is forbidden now.
type Refused struct {
	Interlock string    // the guard's name of the reason; empty when it is not the guard's
	Latched   bool      // a person has to reset the bench first
	Reason    string    // in words, with what to do
	Until     time.Time // when it may pass by itself; zero when unknown
	Questions []string  // that a person has to answer first
	Needs     string    // the key of the request without which it is refused
}

func (r Refused) Error() string { return r.Reason }

// Invalid is a request that is written wrongly.
type Invalid struct{ Reason string }

func (i Invalid) Error() string { return i.Reason }

// Errors of a loop that does not answer.
var (
	ErrUnavailable = errors.New("the controller does not answer")
	ErrNotKnown    = errors.New("not known whether it was done")
)
