package live

import (
	"strings"

	"benchtide/controller"
	"benchtide/safety"
)

// Urgencies of what a person is needed for. What is noNeed is a state: it passes
// by itself, or a person wanted it.
const (
	noNeed  = "no"
	byToday = "today"
	atOnce  = "now"
)

// Need is one thing about the site, once, however many benches and floods it
// concerns. Texts are whole sentences.
type Need struct {
	Cause    string   `json:"cause"`   // its name for programs
	Urgency  string   `json:"urgency"` // now or today; no where nobody is needed
	Bench    string   `json:"bench"`   // empty for the site
	Words    string   `json:"words"`   // what people call it
	Text     string   `json:"text"`    // the whole of it: why, and what to do
	Mains    bool     `json:"mains"`   // the supply goes off before a hand does anything
	Happened string   `json:"happened"`
	Done     string   `json:"done"`
	Do       string   `json:"do"`
	Then     []string `json:"then"`  // what followed from it, oldest first
	Since    *string  `json:"since"` // null where nobody knows
}

// kind is what is the same of a cause whenever it stands.
type kind struct {
	urgency string
	words   string
	do      string
	mains   bool
}

// Causes that are no interlocks.
const (
	cropOver   = "crop-over"
	cropLate   = "crop-late"
	lastFlood  = "flood"
	missing    = "lost"
	untrusted  = "clock"
	noStorage  = "storage"
	left       = "left"
	unchecked  = "commissioning"
	proofTest  = "proof-test"
	weld       = "weld"
	neighbour  = "neighbour"
	skippedOne = "skipped"
)

// kinds is the one table of what a person may be needed for, and of the states
// that need nobody. What latches or refuses a flood has its words in controller.
var kinds = map[string]kind{
	cropOver:  {atOnce, "Plants have waited too long", "Water them by hand, or see that a flood runs.", false},
	weld:      {atOnce, controller.Welded.Words, controller.Welded.Do, controller.Welded.Mains},
	cropLate:  {byToday, "Plants wait for water", "Flood by hand, or take away what keeps the bench from flooding.", false},
	lastFlood: {byToday, "A flood did not do its work", "Look at the bench, and watch the next flood.", false},
	missing:   {byToday, "Water is missing", "", true},
	untrusted: {byToday, "The clock is not trusted", "See that the machine reaches a time server, or fit a clock chip.", false},
	noStorage: {byToday, "Storage takes no writes", "Look at the card or disk of the controller.", false},
	left:      {byToday, "A locked bench left the file", "", false},
	unchecked: {byToday, "Not commissioned", "Commission the bench, or start the program with --attended and stay beside it.", false},
	proofTest: {byToday, "A proof test is overdue", "Do it beside the bench.", false},

	string(safety.HandsIn):        {noNeed, "Hands in", "End it when nobody works in the benches.", false},
	string(safety.MinRest):        {noNeed, controller.Called(safety.MinRest), "", false},
	string(controller.Paused):     {noNeed, controller.Called(controller.Paused), "", false},
	string(controller.Sanitising): {noNeed, controller.Called(controller.Sanitising), "Rinse it twice, throw the water away, and confirm.", false},
	neighbour:                     {noNeed, "Waiting for the water of a neighbour", "", false},
	skippedOne:                    {noNeed, "A flood is skipped", "", false},
}

// kindOf is what is known of a cause: of the table, or of an interlock, which
// needs a person today where it refuses a flood and now where it latches.
func kindOf(cause, detail string, latched bool) kind {
	if k, ok := kinds[cause]; ok {
		return k
	}
	w := controller.WordingOf(safety.Interlock(cause), detail)
	urgency := byToday
	if latched {
		urgency = atOnce
	}
	return kind{urgency, w.Words, w.Do, w.Mains}
}

// need makes one of a kind. More is what is to be done beside what the table says.
func (k kind) need(cause, bench, happened, done, more string) Need {
	n := Need{Cause: cause, Urgency: k.urgency, Bench: bench, Words: k.words, Mains: k.mains, Happened: happened, Done: done, Then: []string{}}
	n.Do = strings.TrimSpace(k.do + " " + more)
	if k.mains {
		n.Do = controller.MainsOff + " " + n.Do
	}
	n.Text = controller.Parts{Happened: n.Happened, Done: n.Done, Do: n.Do}.Text()
	return n
}
