package controller

import (
	"strings"
	"time"

	"benchtide/safety"
)

// EventKind says what happened.
type EventKind uint8

// The kinds of events of a site.
const (
	FloodIntended EventKind = iota // its intention wants to be recorded before the pump may start
	PumpStarted
	FullMade
	PumpStopped
	FloodRetry // the water came home: the same slot is tried once more
	FloodEnded
	FloodRefused // a permissive said no to a flood that is due; it stays queued until its deadline
	GuardActed   // an event of the guard, in Guard
	MessageSent  // something a person has to be told, in Message
	PauseBegan
	PauseEnded
	HandsInBegan
	HandsInEnded
	PlanChanged   // calendar or elapsed time, in Text
	ClockStepped  // the wall clock moved against the boot-time clock, in Text
	OutputChanged // the command to an output changed
	SanitisingBegan
	SanitisingEnded  // rinsed is confirmed
	StageBegan       // a batch is in another stage, in Batch and Stage
	BatchClosed      // or open again, in Batch and Text
	ReservoirWeighed // in Weighing
	WaterLost        // the second flood in a row lost water, in Text: the guard latches the bench
	WaterBooked      // what the diary is to say of a reservoir, in Booking and Text
)

// Event is one thing that happened, as data. Bench and Output are -1 when the
// event is not about one.
type Event struct {
	Kind     EventKind
	At       safety.Now
	Bench    int
	Flood    Flood        // for flood events
	Guard    safety.Event // for GuardActed
	Refusal  safety.Refusal
	Message  Message
	Weighing Weighing
	Booking  Booking
	Output   int
	On       bool   // for OutputChanged
	Batch    string // for StageBegan and BatchClosed
	Stage    int    // for StageBegan, index in its plan
	Text     string
}

// Urgency is how soon a person has to act on a message.
type Urgency string

// The three urgencies.
const (
	Urgent   Urgency = "now"
	Today    Urgency = "today"
	ThisWeek Urgency = "this week"
)

// Message is something a person has to be told. Cause groups messages about one
// thing.
type Message struct {
	Urgency Urgency
	Bench   int
	Cause   string
	Text    string    // the whole of it, to read in one go
	Parts             // the same in parts; Happened is empty where only the whole is known
	By      time.Time // when the first crop concerned can wait no longer; zero when none stands there
	Gone    bool      // it says that its cause is no more
}

// Parts are whole sentences: what happened, what was done about it, and what a
// person is to do. What does not apply is empty.
type Parts struct{ Happened, Done, Do string }

// Text is the whole of it.
func (p Parts) Text() string {
	var said []string
	for _, part := range [...]string{p.Happened, p.Done, p.Do} {
		if part != "" {
			said = append(said, part)
		}
	}
	return strings.Join(said, " ")
}
