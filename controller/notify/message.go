package notify

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"benchtide/controller"
	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
)

// Message is one notice for one channel.
type Message struct {
	ID      string // the same at every attempt, in every run of the program
	Channel string
	Site    string
	At      time.Time // when it was put into the queue
	Notice  alarm.Notice
}

// Channel delivers messages to somebody. Send returns nil once the other side has
// taken it. An error that is a Refused is about this message; any other says
// that the channel cannot be used now. No error may hold a secret.
type Channel interface {
	Name() string
	Second() bool // it leads to the second person
	Send(ctx context.Context, p *Message) error
}

// Refused is the other side's answer that it does not take this message.
type Refused struct{ Reason string }

func (r Refused) Error() string { return r.Reason }

func isRefused(err error) bool {
	_, ok := errors.AsType[Refused](err)
	return ok
}

// lifetime is how long a message is tried, in time that the program runs.
func lifetime(n *alarm.Notice) time.Duration {
	switch {
	case n.Kind == alarm.Test:
		return 24 * time.Hour
	case n.Kind == alarm.Digest:
		return 14 * 24 * time.Hour
	case n.Alarm.Urgency == controller.Urgent:
		return 7 * 24 * time.Hour
	}
	return 3 * 24 * time.Hour
}

// Times of an attempt.
const (
	sendIn     = time.Minute // for one attempt
	firstRetry = 5 * time.Second
	lastRetry  = 5 * time.Minute
)

// retryIn is how long to wait after so many attempts that failed.
func retryIn(tries int) time.Duration {
	d := firstRetry
	for range min(tries, 10) - 1 {
		d *= 2
	}
	return min(d, lastRetry)
}

// ChannelStatus is how one channel fares.
type ChannelStatus struct {
	Name        string
	Waiting     int
	Delivered   uint64    // since the program started
	Failed      uint64    // attempts, since the program started
	Undelivered int       // given up, on record
	LastSent    time.Time // zero when never
	Confirmed   time.Time // a person answered a test; zero when never
	Trouble     string    // of the last attempt; empty when it went well
}

// row is a message that waits.
type row struct {
	Message
	notice  json.RawMessage // as storage has it
	seq     int64
	left    time.Duration // how long it is still tried
	counted time.Duration // the same, as storage knows it
	tries   int
	after   time.Time // not tried before; zero at once
	error   string    // of the last attempt
	over    bool      // it waits no more
}

func (r *row) asLost() outbox.Lost {
	return outbox.Lost{ID: r.ID, Channel: r.Channel, At: r.At, Subject: r.Notice.Subject, Error: r.error}
}
