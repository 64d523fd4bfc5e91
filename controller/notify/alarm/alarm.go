package alarm

import (
	"time"

	"benchtide/controller"
)

// State is where an alarm is.
type State string

// The states, after ANSI/ISA-18.2.
const (
	Normal         State = "normal"
	Unacknowledged State = "unacknowledged"
	Acknowledged   State = "acknowledged"
	Returned       State = "returned" // the cause is gone, and nobody has acknowledged it yet
	Shelved        State = "shelved"
	OutOfService   State = "out of service"
)

// Alarm is all that was told of one cause on one bench since it arose.
type Alarm struct {
	ID      int64              `json:"id"`    // of this occurrence; rises from one to the next
	Bench   string             `json:"bench"` // empty for the site
	Cause   string             `json:"cause"`
	Urgency controller.Urgency `json:"urgency"`
	Text    string             `json:"text"`
	controller.Parts
	By    time.Time `json:"by"` // when the first crop concerned can wait no longer; zero when none stands there
	At    time.Time `json:"at"` // when it arose
	Count int       `json:"count"`

	Also    []string `json:"also,omitempty"`    // causes that follow from this one
	History []Past   `json:"history,omitempty"` // what happened under it since it arose, oldest first

	Active     bool   `json:"active"`
	Known      bool   `json:"known"` // acknowledged
	KnownTo    string `json:"known_to"`
	Passing    bool   `json:"passing"` // nothing will show that its cause is gone
	ShelvedBy  string `json:"shelved_by"`
	OutBy      string `json:"out_by"`
	Out        bool   `json:"out"`
	SecondTold bool   `json:"second_told"`

	Since   time.Duration `json:"since_ns"`         // boot-time clock when it arose, as of all below
	Shelf   time.Duration `json:"shelved_until_ns"` // 0 when it is not shelved
	Unsaid  bool          `json:"unsaid"`           // it has news that nobody was told
	First   time.Duration `json:"first_sent_ns"`    // since the last that asked to be acknowledged
	Last    time.Duration `json:"last_sent_ns"`     // meaningful when Told is not 0
	Told    int           `json:"told"`             // how often it was sent
	Goodbye bool          `json:"goodbye"`          // that it is gone is still to be told
}

// State says where the alarm is.
func (a *Alarm) State() State {
	switch {
	case a.Out:
		return OutOfService
	case a.Shelf > 0:
		return Shelved
	case a.Active && a.Known:
		return Acknowledged
	case a.Active:
		return Unacknowledged
	case a.Known:
		return Normal
	}
	return Returned
}

// silent reports whether a person keeps the alarm from being told.
func (a *Alarm) silent() bool { return a.Out || a.Shelf > 0 }

// over reports whether nothing of the alarm is left to be kept.
func (a *Alarm) over() bool {
	return !a.silent() && !a.Goodbye && !a.Unsaid && a.Known && (!a.Active || a.Passing)
}

// loud reports whether the alarm is repeated until somebody acknowledges it.
func (a *Alarm) loud() bool {
	return a.Urgency == controller.Urgent && a.Active && !a.Known && !a.silent()
}

// rank orders urgencies; less is more urgent.
func rank(u controller.Urgency) int {
	switch u {
	case controller.Urgent:
		return 0
	case controller.Today:
		return 1
	}
	return 2
}
