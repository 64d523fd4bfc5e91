// Package outbox is what of the messages must outlast the program: the messages
// that wait, those that nobody took, how each channel fares, and the alarms with
// what people said of them. It is data. Package notify decides what becomes of
// it; a store, such as the ledger, keeps it.
package outbox

import (
	"encoding/json"
	"maps"
	"time"
)

// State is the whole of it. Who hands one over changes nothing in it any more.
type State struct {
	Alarms   json.RawMessage    `json:"alarms,omitempty"`  // as package alarm saves them; nil before there were any
	Channels map[string]Channel `json:"ways,omitempty"`    // by name
	Waiting  []Message          `json:"waiting,omitempty"` // in the order in which they are to go
	Lost     []Lost             `json:"lost,omitempty"`    // oldest first
	Joined   bool               `json:"-"`                 // what was found late is in it
}

// Message is one notice for one channel that waits to be taken.
type Message struct {
	Seq     int64           `json:"seq"` // rises from one message to the next
	ID      string          `json:"id"`  // the same at every attempt, in every run of the program
	Channel string          `json:"way"`
	At      time.Time       `json:"at"`      // when it was put into the queue
	Left    time.Duration   `json:"left_ns"` // how long it is still tried
	Notice  json.RawMessage `json:"notice"`  // as package alarm has it
}

// Channel is how one channel fares. Times are zero when never.
type Channel struct {
	Sent      time.Time `json:"sent,omitzero"`
	Confirmed time.Time `json:"confirmed,omitzero"` // a person answered a test
	Code      string    `json:"code,omitempty"`     // that the answer to the latest test has to have
	Asked     time.Time `json:"asked,omitzero"`     // when that test went out
}

// Lost is a message that nobody took.
type Lost struct {
	ID      string    `json:"id"`
	Channel string    `json:"way"`
	At      time.Time `json:"at"`
	Subject string    `json:"subject"`
	Error   string    `json:"error"`
}

// Empty reports whether there is nothing in it.
func (s *State) Empty() bool {
	return s.Alarms == nil && len(s.Channels) == 0 && len(s.Waiting) == 0 && len(s.Lost) == 0
}

// With returns s and what older has that s does not, what waited for longest
// first. What s says of alarms and channels goes before what older says.
func (s State) With(older State) State {
	known := map[string]bool{}
	for i := range s.Waiting {
		known[s.Waiting[i].ID] = true
	}
	for i := range s.Lost {
		known[s.Lost[i].ID] = true
	}
	both := State{Alarms: s.Alarms, Channels: map[string]Channel{}, Joined: s.Joined}
	if both.Alarms == nil {
		both.Alarms = older.Alarms
	}
	maps.Copy(both.Channels, older.Channels)
	maps.Copy(both.Channels, s.Channels)
	for _, p := range older.Waiting {
		if !known[p.ID] {
			both.Waiting = append(both.Waiting, p)
		}
	}
	for _, l := range older.Lost {
		if !known[l.ID] {
			both.Lost = append(both.Lost, l)
		}
	}
	both.Waiting, both.Lost = append(both.Waiting, s.Waiting...), append(both.Lost, s.Lost...)
	return both
}
