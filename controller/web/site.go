package web

import (
	"context"
	"errors"
	"io"
	"time"

	"benchtide/controller"
	"benchtide/schedule"
)

// Site is the running site. Benches go by their index. An act returns when the
// loop has taken a turn after it. Errors are a Refused; ErrUnavailable, after which
// the act never happens; or ErrNotKnown, after which it may have happened or may
// yet. Acts that stop (Stop, Pause, HandsIn, Sanitise) happen once they were handed
// over, whoever has gone; the others only while their asker waits.
type Site interface {
	// Status is the picture after a turn that is a second old at most.
	Status(context.Context) (Status, error)
	Calendar(from schedule.Date, days int) (Calendar, error)
	Outlook(ctx context.Context, from schedule.Date, days int) (Outlook, error)

	// Flood asks for a flood by hand; a hold of 0 means that of the day's stage.
	Flood(ctx context.Context, bench int, hold time.Duration) error
	Stop(ctx context.Context, bench int) error
	Pause(ctx context.Context, benches []int, until time.Time, by string) error
	// Resume refuses only where none of the benches is paused.
	Resume(ctx context.Context, benches []int) error
	HandsIn(ctx context.Context, on bool) error
	Reset(ctx context.Context, bench int, found string) error
	// Drop forgets a bench that left the file.
	Drop(ctx context.Context, name, found string) error
	// SkipNext leaves out a flood: the one of a slot, or of slot 0 the next.
	SkipNext(ctx context.Context, bench int, slot schedule.Civil) (SkippedFlood, error)
	// UndoSkip takes back the skip of a slot, or of slot 0 the last.
	UndoSkip(ctx context.Context, bench int, slot schedule.Civil) (SkippedFlood, error)

	// Sanitise keeps planned floods off every bench of a reservoir until Rinsed.
	Sanitise(ctx context.Context, bench int, by string) error
	Rinsed(ctx context.Context, bench int, by string) error
	// Advance has a batch enter the stage of its plan from a day of its age, or,
	// without one, the one that is due, else the next; it returns that day.
	Advance(ctx context.Context, batch int, fromDay *int) (int, error)
	// CloseBatch gives a batch its last day; 0 takes an earlier word back.
	CloseBatch(ctx context.Context, batch int, last schedule.Date) error
	// Empty closes every batch on a bench and names them.
	Empty(ctx context.Context, bench int) ([]string, error)
}

// Record is what is kept of the site. Rows are oldest first.
type Record interface {
	Floods(context.Context, Query) ([]controller.Row, error)
	Trips(context.Context, Query) ([]Trip, error)
	Days(context.Context, Query) ([]Day, error)
	Diary(context.Context, Query) ([]DiaryEntry, error)
	// AddDiary keeps a note; what is wrong with it is an Invalid, and what is hard
	// to believe a Refused with questions.
	AddDiary(context.Context, Note) error
	// Export writes the rows of a table; an unknown table or format is an
	// Invalid, before anything is written.
	Export(ctx context.Context, w io.Writer, table, format string, q Query) error
	// Backup writes a copy of the whole record as of now.
	Backup(ctx context.Context, w io.Writer) error
}

// Query says which rows are wanted.
type Query struct {
	Bench string    // or other place; empty means all
	Since time.Time // zero means all
	Limit int       // the newest so many; 0 means all
}

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
