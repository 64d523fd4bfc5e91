package commission

import (
	"encoding/json"
	"fmt"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// Entry is one thing that was found out about a site.
type Entry struct {
	At          time.Time
	What        string // one of the words below
	Place       string // a bench; empty for the site
	Fingerprint string // of the wiring it was found on
	Data        json.RawMessage
}

// What entries are about.
const (
	begun        = "begun"        // a commissioning from the first step on
	passed       = "passed"       // a step
	failed       = "failed"       // a step: the wiring is not as the file says
	timed        = "timed"        // one calibration flood
	discarded    = "discarded"    // the floods timed so far on a bench disagree
	calibrated   = "calibrated"   // a bench
	commissioned = "commissioned" // the site
	proved       = "proof-test"   // the switches of a bench
	leftOut      = "left-out"     // a step that the person would not do
	awaited      = "awaited"      // the program is to end in a step
	calledOff    = "called-off"   // it ended in peace instead
)

// Record keeps entries, oldest first.
type Record interface {
	Entries() ([]Entry, error)
	Add(Entry) error
}

// Memory is a Record that forgets with the program.
type Memory struct{ entries []Entry }

// Entries returns all that was added.
func (m *Memory) Entries() ([]Entry, error) { return m.entries, nil }

// Add keeps an entry.
func (m *Memory) Add(e Entry) error {
	m.entries = append(m.entries, e)
	return nil
}

// stepData is the data of a passed, failed or proof-test entry.
type stepData struct {
	Step    string   `json:"step"`
	Answers []Answer `json:"answers"`
	Failure string   `json:"failure,omitempty"`
}

// timedData is one calibration flood.
type timedData struct {
	Fill   time.Duration   `json:"fill_ns"`
	Fall   time.Duration   `json:"fall_ns"`
	Drain  time.Duration   `json:"drain_ns"`
	Hold   time.Duration   `json:"hold_ns"`
	Drawn  quantity.Litres `json:"drawn_l"`
	Settle quantity.Metres `json:"settle_m"` // height over the floor of the table; 0 when not read
}

// calibration is what the floods of one bench came to.
type calibration struct {
	Plumbing string      `json:"plumbing"`
	Fill     float64     `json:"fill_s"`
	Fall     float64     `json:"fall_s"`
	Drain    float64     `json:"drain_s"`
	Flow     float64     `json:"flow_l_per_h"`
	Free     float64     `json:"free"` // of the area that the file's table and pots leave
	Spread   float64     `json:"spread"`
	FlowGive float64     `json:"flow_give"` // of the flow, and so on: 19 in 20 lie within that share of it
	FreeGive float64     `json:"free_give"`
	Home     float64     `json:"home"` // what the drain takes, over what the file's figures give
	HomeGive float64     `json:"home_give"`
	Floods   []timedData `json:"floods"`
	Assumed  []string    `json:"assumed"`
}

func (c calibration) cycle() sheet.Cycle {
	seconds := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	return sheet.Cycle{
		Fill: seconds(c.Fill), Fall: seconds(c.Fall), Drain: seconds(c.Drain),
		Flow: quantity.LitresPerHour(c.Flow), Free: quantity.Fraction(c.Free),
	}
}

// add puts an entry on record, as of now.
func (d *dialogue) add(what, place string, data any) error {
	text, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("record %s: %w", what, err)
	}
	return d.Record.Add(Entry{At: d.Clock.Now().Wall, What: what, Place: place, Fingerprint: d.Site.Fingerprint(), Data: text})
}
