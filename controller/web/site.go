package web

import (
	"context"
	"io"
	"time"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/schedule"
)

// Site is the running site. Benches go by their index. An act returns when the
// loop has taken a turn after it. Errors are a Refused; ErrUnavailable, after
// which the act never happens; or ErrNotKnown, after which it may have happened
// or may yet. Acts that keep water off (Stop, Pause, HandsIn, Sanitise,
// SkipNext, Empty and a last day) and words that start nothing (TookOut,
// ToppedUp) happen once they were handed over, whoever has gone; the others
// only while their asker waits.
type Site interface {
	// Status is the snapshot after a turn that is a second old at most.
	Status(context.Context) (live.Status, error)
	Calendar(from schedule.Date, days int) (live.Calendar, error)
	Outlook(ctx context.Context, from schedule.Date, days int) (live.Outlook, error)

	// Flood asks for a flood by hand; a hold of 0 means that of the day's stage.
	Flood(ctx context.Context, bench int, hold time.Duration, by controller.Asker) error
	Stop(ctx context.Context, bench int, by controller.Asker) error
	Pause(ctx context.Context, benches []int, until time.Time, by string) error
	// Resume refuses only where none of the benches is paused.
	Resume(ctx context.Context, benches []int) error
	HandsIn(ctx context.Context, on bool, by controller.Asker) error
	Reset(ctx context.Context, bench int, found string) error
	// Drop forgets a bench that left the file.
	Drop(ctx context.Context, name, found string) error
	// SkipNext leaves out a flood: the one of a slot, or of slot 0 the next.
	SkipNext(ctx context.Context, bench int, slot schedule.Civil) (live.SkippedFlood, error)
	// UndoSkip takes back the skip of a slot, or of slot 0 the last.
	UndoSkip(ctx context.Context, bench int, slot schedule.Civil) (live.SkippedFlood, error)

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

	// TookOut takes a person's word that the water which a reservoir lost was
	// taken out, ToppedUp one on water that nobody wrote down. shown is what
	// the person was told of; 0 means all of it.
	TookOut(ctx context.Context, reservoir int, shown float64, by string) (live.Explained, error)
	ToppedUp(ctx context.Context, reservoir int, poured bool, shown float64, by string) (live.Explained, error)
}

// Record is what is kept of the site. Rows are oldest first.
type Record interface {
	Floods(context.Context, live.Query) ([]controller.Row, error)
	Trips(context.Context, live.Query) ([]live.Trip, error)
	Days(context.Context, live.Query) ([]live.Day, error)
	Diary(context.Context, live.Query) ([]live.DiaryEntry, error)
	// AddDiary keeps a note; what is wrong with it is an Invalid, and what is hard
	// to believe a Refused with questions.
	AddDiary(context.Context, live.Note) error
	// Export writes the rows of a table; an unknown table or format is an
	// Invalid, before anything is written.
	Export(ctx context.Context, w io.Writer, table, format string, q live.Query) error
	// Backup writes a copy of the whole record as of now.
	Backup(ctx context.Context, w io.Writer) error
}
