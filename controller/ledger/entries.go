package ledger

import (
	"encoding/json"
	"time"

	"benchtide/controller"
)

// When is an instant that prints as local time with its offset, to the second.
type When struct{ time.Time }

// MarshalJSON prints w in its own zone.
func (w When) MarshalJSON() ([]byte, error) {
	return json.Marshal(controller.Stamp(w.Time, w.Location()))
}

// DiaryKind is what a diary entry is about.
type DiaryKind string

// The kinds of diary entries.
const (
	TopUp          DiaryKind = "top-up"      // litres
	TakenOut       DiaryKind = "taken-out"   // litres
	EC             DiaryKind = "ec"          // mS/cm
	PH             DiaryKind = "ph"          // no unit
	Temperature    DiaryKind = "temperature" // °C of the solution
	Cleaning       DiaryKind = "cleaning"
	SolutionChange DiaryKind = "solution-change" // litres
	Note           DiaryKind = "note"
	Baseline       DiaryKind = "baseline" // fill and fall times are compared with those from here on

	// Of a batch: how moist its pots are, from 1, bone dry, to 5, shining wet,
	// and numbers of pots; of germinated and thinned, of seedlings.
	Moisture     DiaryKind = "moisture"
	Sown         DiaryKind = "sown"
	Germinated   DiaryKind = "germinated"
	Resown       DiaryKind = "resown"
	Thinned      DiaryKind = "thinned"
	Transplanted DiaryKind = "transplanted"
	Lost         DiaryKind = "lost"
	MovedOut     DiaryKind = "moved-out"
)

// DiaryUnits lists the kinds of diary entries with the unit of their value; a
// kind without one takes no value. A solution change may leave it out.
var DiaryUnits = map[DiaryKind]string{
	TopUp: "L", TakenOut: "L", EC: "mS/cm", PH: "pH", Temperature: "°C", SolutionChange: "L", Cleaning: "", Note: "", Baseline: "",
	Moisture: "of 5", Sown: "pots", Germinated: "pots", Resown: "pots", Thinned: "pots", Transplanted: "pots", Lost: "pots", MovedOut: "pots",
}

// Diary is one entry of the diary.
type Diary struct {
	At    When      `json:"at"`
	Place string    `json:"place"` // a bench, a reservoir or a batch; empty for the site
	Kind  DiaryKind `json:"kind"`
	Value *float64  `json:"value"` // in Unit; nil without one
	Unit  string    `json:"unit"`  // that of the kind, whatever is added
	Text  string    `json:"text"`
}

// Commissioning is a check of the wiring, or a calibration, that was done.
type Commissioning struct {
	At          When            `json:"at"`
	What        string          `json:"what"`
	Place       string          `json:"place"`
	Fingerprint string          `json:"fingerprint"` // of the wiring it was done on
	Data        json.RawMessage `json:"data"`        // valid JSON; what it is depends on What
}

// Stage is a batch's passage into a stage of its plan, or its last day.
type Stage struct {
	At    When   `json:"at"`
	Batch string `json:"batch"`
	Stage int    `json:"stage"` // from 0; -1 where the batch was closed or opened again
	Text  string `json:"text"`
}

// Weighing is one reading of a reservoir's litres, off the moment in a fill at
// which its switch fell.
type Weighing struct {
	At        When     `json:"at"` // when the pump of the flood started
	Reservoir string   `json:"reservoir"`
	Bench     string   `json:"bench"`
	Flood     int64    `json:"flood"`
	Litres    float64  `json:"litres"`
	Give      float64  `json:"give_l"`
	Noted     float64  `json:"noted_l"` // topped up by the diary since the weighing before
	Came      float64  `json:"came_l"`  // that nobody wrote down
	Gone      *float64 `json:"gone_l"`  // since the weighing before; null where the two make no pair
}

// Settings is one version of the file.
type Settings struct {
	At          When   `json:"at"`
	Fingerprint string `json:"fingerprint"`
	Diff        string `json:"diff"` // against the version before; the whole text of the first
}

// Trip is something the guard did: an interlock acted (tripped), was latched,
// proved a weld (weld-proven), or a person reset it.
type Trip struct {
	At        When   `json:"at"`
	Bench     string `json:"bench"` // empty for the site or a reservoir
	Interlock string `json:"interlock"`
	Act       string `json:"act"` // tripped, latched, weld-proven or reset
	Latched   bool   `json:"latched"`
	Detail    string `json:"detail"` // of a reset: what was found
	Times     int    `json:"times"`  // that it acted from At to Last without latching; 1 for most
	Last      When   `json:"last"`
}

// Pause is the beginning or the end of a pause or of sanitising.
type Pause struct {
	At    When   `json:"at"`
	Bench string `json:"bench"`
	Began bool   `json:"began"`
	Text  string `json:"text"`
}

// ProofTest is one change of a switch that was being tested.
type ProofTest struct {
	At     When   `json:"at"`
	Place  string `json:"place"` // bench or reservoir
	Switch string `json:"switch"`
	Level  string `json:"level"`
}

// Detail is one event of recent days.
type Detail struct {
	At    When   `json:"at"`
	Kind  string `json:"kind"`
	Place string `json:"place"` // bench, reservoir or output; empty for the site
	Flood int64  `json:"flood"` // 0 when it is not about one
	Text  string `json:"text"`
}

// Output is how much an output ran on one local day.
type Output struct {
	Date   string  `json:"date"`
	Output string  `json:"output"`
	RunS   float64 `json:"run_s"`
	Starts int     `json:"starts"`
}
