package live

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/safety"
	"benchtide/schedule"
)

// Status is the snapshot of the site. Times are local, RFC 3339 with their
// offset; quantities are in the unit that the key names; null is what does not
// apply or is not known.
type Status struct {
	Site         string            `json:"site"`
	Units        quantity.Units    `json:"units"` // in which people read figures: metric or us; those here are metric
	At           string            `json:"at"`
	ClockTrusted bool              `json:"clock_trusted"`
	Plan         string            `json:"plan"` // calendar or elapsed
	HandsIn      bool              `json:"hands_in"`
	NeedsYou     string            `json:"needs_you"` // no, today or now
	Needs        []Need            `json:"needs"`     // why, the most urgent first
	States       []Need            `json:"states"`    // what else is so, and needs nobody
	Benches      []BenchStatus     `json:"benches"`
	Batches      []BatchStatus     `json:"batches"`
	Reservoirs   []ReservoirStatus `json:"reservoirs"`
	Outputs      []OutputStatus    `json:"outputs"`
	Record       RecordStatus      `json:"record"`
	Messages     MessagesStatus    `json:"messages"`

	Commissioning CommissioningStatus `json:"commissioning"`

	Left []LeftBench `json:"left"` // benches that left the file, until a person has them dropped

	called texts.Titles // while causes are said
}

// LeftBench is what is kept of a bench that left the file.
type LeftBench struct {
	Name    string        `json:"name"`
	Latched []LatchedTrip `json:"latched"` // first cause first
}

// BenchStatus is the snapshot of one bench.
type BenchStatus struct {
	Name        string            `json:"name"`
	Title       string            `json:"title,omitempty"` // what people call it, where the file says; so of the others
	Phase       string            `json:"phase"`           // rest, recording, filling, holding or draining
	PhaseSince  *string           `json:"phase_since"`     // of filling, holding and draining
	Water       string            `json:"water"`           // gone or standing, as far as switches tell
	Flood       *controller.Row   `json:"flood"`           // under way
	Last        *controller.Row   `json:"last"`
	LastProven  *string           `json:"last_proven"`
	Next        *Planned          `json:"next"`
	Skipped     []SkippedFlood    `json:"skipped"` // floods to come that a person skipped, the next first
	Queued      int               `json:"queued"`
	PausedUntil *string           `json:"paused_until"`
	PausedBy    string            `json:"paused_by"`        // empty when nobody said
	Sanitising  *string           `json:"sanitising_since"` // until rinsed is confirmed
	Refusal     *Refusal          `json:"refusal"`          // why no flood could start now
	Latched     []LatchedTrip     `json:"latched"`          // first cause first
	Weld        bool              `json:"weld"`             // its pump relay is proven welded
	Switches    map[string]string `json:"switches"`
}

// Planned is one flood of the calendar.
type Planned struct {
	Bench    string  `json:"bench"`
	Slot     string  `json:"slot"`
	Due      string  `json:"due"`
	Batch    string  `json:"batch"`
	FromDay  int     `json:"stage_from_day"`
	HoldS    float64 `json:"hold_s"`
	Strength float64 `json:"strength"` // of the solution, 0 to 1 of full
	CanWaitS float64 `json:"can_wait_s"`
}

// SkippedFlood is a flood that a person left out.
type SkippedFlood struct {
	Slot *string `json:"slot"` // null while floods follow elapsed time
	Due  string  `json:"due"`
}

// Skipped shows a flood that a person left out.
func Skipped(p schedule.Planned, zone *time.Location) SkippedFlood {
	s := SkippedFlood{Due: controller.Stamp(p.Due, zone)}
	if p.Slot.Local != 0 {
		slot := controller.SlotStamp(p.Slot.Local, zone)
		s.Slot = &slot
	}
	return s
}

// Calendar is what is planned.
type Calendar struct {
	From      string     `json:"from"`
	Days      int        `json:"days"`
	Floods    []Planned  `json:"floods"`
	Conflicts []Conflict `json:"conflicts"`

	Titles texts.Titles `json:"titles,omitzero"` // what people call the things of these names
}

// Conflict is what a bench that batches share withholds from one of them.
type Conflict struct {
	Bench  string `json:"bench"`
	Kind   string `json:"kind"`
	From   string `json:"from"`
	To     string `json:"to"`
	Detail string `json:"detail"`
}

// Refusal says why the guard would not let a flood start.
type Refusal struct {
	Interlock string  `json:"interlock"`
	Words     string  `json:"words"` // what people call it
	Latched   bool    `json:"latched"`
	Detail    string  `json:"detail"`
	Until     *string `json:"until"`
}

// LatchedTrip waits for a person to reset the bench.
type LatchedTrip struct {
	At        string `json:"at"`
	Interlock string `json:"interlock"`
	Words     string `json:"words"` // what people call it
	Detail    string `json:"detail"`
	Remedy    string `json:"remedy"` // what a person can do about it
}

// BatchStatus is the crop clock of one batch.
type BatchStatus struct {
	Name     string  `json:"name"`
	Title    string  `json:"title,omitempty"`
	Bench    string  `json:"bench"`
	SinceS   float64 `json:"since_s"`        // since the last flood that counted
	NoFlood  bool    `json:"no_flood"`       // none is on record: it counts from when the batch came, or the program began
	CanWaitS float64 `json:"can_wait_s"`     // what its stage allows
	LimitS   float64 `json:"limit_s"`        // what the crop clock runs against
	LimitBy  string  `json:"limit_by"`       // stage, or pots: how long they last in hot weather
	Ratio    float64 `json:"crop_clock"`     // since_s over limit_s
	Stage    *int    `json:"stage_from_day"` // as the plan has it; null when it is in none today
	Due      *int    `json:"due_from_day"`   // of the stage that its age alone gives it
	Closed   *string `json:"closed"`         // its last day
}

// ReservoirStatus is what is believed of one reservoir.
type ReservoirStatus struct {
	Name   string  `json:"name"`
	Title  string  `json:"title,omitempty"`
	Low    string  `json:"low"`   // its switch: wet, dry, fault or absent
	Level  string  `json:"level"` // its switch that only weighs, likewise
	Litres float64 `json:"litres"`
	TopUp  TopUp   `json:"top_up"`

	Basis     string       `json:"basis"`      // of Litres: weighed, noted, expected or unknown
	At        *string      `json:"at"`         // when it was weighed or noted last; since when it is unknown
	Span      *Span        `json:"span"`       // of Litres; null where they are unknown
	LastKnown *KnownWater  `json:"last_known"` // null while they are known, and where they never were
	Words     string       `json:"words"`      // all of that
	Missing   *Unexplained `json:"missing"`    // water that is lost; null without any
	Came      *Unexplained `json:"came"`       // water that nobody wrote down; null without any

	// TemperatureC is nil without a thermometer, and while its reading is not to
	// be believed; Thermometer tells the two apart: absent, believed or silent.
	TemperatureC *float64 `json:"temperature_c"`
	Thermometer  string   `json:"thermometer"`
}

// OutputStatus is whether an output is energised.
type OutputStatus struct {
	Name string `json:"name"`
	On   bool   `json:"on"`
}

// RecordStatus is how the ledger fares.
type RecordStatus struct {
	Kept    bool    `json:"kept"` // it outlasts the program
	Waiting int     `json:"waiting"`
	Errors  int64   `json:"errors"`
	Dropped int64   `json:"dropped"`
	Trouble *string `json:"trouble"`
}

// CommissioningStatus is what was checked of the wiring, and what is due.
type CommissioningStatus struct {
	Unattended bool        `json:"unattended"` // floods may start by themselves
	Why        string      `json:"why"`        // this wiring does not count as commissioned; empty when it does
	ProofTests []ProofTest `json:"proof_tests"`
	LeftOut    []LeftOut   `json:"left_out"` // steps that count as not done
}

// ProofTest is how the monthly proof test of a bench's switches stands.
type ProofTest struct {
	Bench   string  `json:"bench"`
	Last    *string `json:"last"` // null when it was never done on this wiring
	Due     *string `json:"due"`  // by when
	Overdue bool    `json:"overdue"`
}

// LeftOut is a step of the commissioning that nobody has done yet.
type LeftOut struct {
	Step  string  `json:"step"`
	Bench *string `json:"bench"` // null of what is about the site
	At    string  `json:"at"`    // when it was left out
}

// Names are what the indices of a controller.Status stand for, and its plans.
type Names struct {
	controller.Names
	Plan    func(schedule.Planned) Planned
	FromDay func(batch, stage int) int // of a stage of the batch's plan
}

// Titles are what people call the benches, reservoirs and batches of a snapshot.
func (s *Status) Titles() (t texts.Titles) {
	for i := range s.Benches {
		texts.Entitle(&t.Benches, s.Benches[i].Name, s.Benches[i].Title)
	}
	for i := range s.Reservoirs {
		texts.Entitle(&t.Reservoirs, s.Reservoirs[i].Name, s.Reservoirs[i].Title)
	}
	for i := range s.Batches {
		texts.Entitle(&t.Batches, s.Batches[i].Name, s.Batches[i].Title)
	}
	return t
}

// StatusOf shows a controller's snapshot, without Outputs and Record.
func StatusOf(st *controller.Status, n *Names) Status {
	s := Status{
		Site: n.Site, Units: n.Units, At: controller.Stamp(st.Now.Wall, n.Zone), ClockTrusted: st.Now.Trusted, Plan: "elapsed", HandsIn: st.HandsIn,
		Benches: []BenchStatus{}, Batches: []BatchStatus{}, Reservoirs: []ReservoirStatus{}, Outputs: []OutputStatus{},
		Messages:      MessagesStatus{Channels: []ChannelStatus{}},
		Commissioning: CommissioningStatus{ProofTests: []ProofTest{}, LeftOut: []LeftOut{}},
		Left:          leftBenches(st, n.Zone),
	}
	if st.Calendar {
		s.Plan = "calendar"
	}
	for i := range st.Benches {
		s.Benches = append(s.Benches, benchStatus(st, i, n))
	}
	for i, b := range st.Batches {
		s.Batches = append(s.Batches, batchStatus(i, &b, n))
	}
	for i, r := range st.Reservoirs {
		s.Reservoirs = append(s.Reservoirs, ReservoirStatus{Name: n.Reservoirs[i], Title: n.Titles.Reservoirs[n.Reservoirs[i]], Low: r.Low.String(), Litres: quantity.Rounded(float64(r.Litres), 0.1)})
		s.Reservoirs[i].TemperatureC, s.Reservoirs[i].Thermometer = warmth(&r)
		s.Reservoirs[i].rested(&r, n, st.Now.Wall)
	}
	return s
}

func warmth(r *controller.ReservoirStatus) (c *float64, state string) {
	switch {
	case !r.Thermometer:
		return nil, "absent"
	case !r.Believed:
		return nil, "silent"
	}
	t := quantity.Rounded(float64(r.Temperature), 0.1)
	return &t, "believed"
}

func batchStatus(i int, b *controller.BatchStatus, n *Names) BatchStatus {
	s := BatchStatus{
		Name: n.Batches[i], Title: n.Titles.Batches[n.Batches[i]], Bench: n.Benches[n.BenchOf[i]],
		SinceS: quantity.Rounded(b.Since.Seconds(), 0.1), NoFlood: b.NoFlood, CanWaitS: b.CanWait.Seconds(),
		LimitS: quantity.Rounded(b.Limit.Seconds(), 1), LimitBy: "stage", Ratio: quantity.Rounded(b.Ratio, 0.0001),
	}
	if b.Pots {
		s.LimitBy = "pots"
	}
	if b.Stands {
		stage, due := n.FromDay(i, b.Stage), n.FromDay(i, b.Due)
		s.Stage, s.Due = &stage, &due
	}
	if b.Closed != 0 {
		last := b.Closed.String()
		s.Closed = &last
	}
	return s
}

var waters = map[safety.WaterState]string{safety.Gone: "gone", safety.Standing: "standing"}

func benchStatus(st *controller.Status, i int, n *Names) BenchStatus {
	b := &st.Benches[i]
	s := BenchStatus{
		Name: n.Benches[i], Title: n.Titles.Benches[n.Benches[i]], Phase: b.Phase.String(), Water: waters[b.Water], Queued: b.Queued, Skipped: []SkippedFlood{},
		LastProven: controller.StampOrNil(b.LastProven, n.Zone),
		Switches: map[string]string{
			"full": b.Full.String(), "high": b.High.String(), "empty": b.Empty.String(), "leak": b.Leak.String(),
		},
	}
	if b.Phase != controller.Rest {
		s.Flood = rowOf(b.Flood, n)
	}
	if b.Last.ID != 0 {
		s.Last = rowOf(b.Last, n)
	}
	if b.HasNext {
		p := n.Plan(b.Next)
		s.Next = &p
	}
	for _, p := range b.Skipped {
		s.Skipped = append(s.Skipped, Skipped(p, n.Zone))
	}
	if b.Paused {
		s.PausedUntil, s.PausedBy = controller.StampOrNil(b.PausedUntil, n.Zone), b.PausedBy
	}
	s.Sanitising = controller.StampOrNil(b.Sanitising, n.Zone)
	// wall is what the wall clock shows, or showed, at a boot-time clock.
	wall := func(mono time.Duration) time.Time { return st.Now.Wall.Add(mono - st.Now.Mono) }
	if b.Since > 0 {
		s.PhaseSince = controller.StampOrNil(wall(b.Since), n.Zone)
	}
	if r := b.Start; r.Refused() {
		s.Refusal = &Refusal{Interlock: string(r.Interlock), Words: controller.WordingOf(r.Interlock, r.Detail).Words, Latched: r.Latched, Detail: r.Detail}
		if r.Until > 0 {
			s.Refusal.Until = controller.StampOrNil(wall(r.Until), n.Zone)
		}
	}
	s.Latched, s.Weld = latchedTrips(b.Latched, wall, n.Zone), b.Weld
	return s
}

func latchedTrips(trips []safety.Trip, wall func(time.Duration) time.Time, zone *time.Location) []LatchedTrip {
	all := []LatchedTrip{}
	for _, t := range trips {
		all = append(all, LatchedTrip{At: controller.Stamp(wall(t.At), zone), Interlock: string(t.Interlock), Words: controller.WordingOf(t.Interlock, t.Detail).Words, Detail: t.Detail, Remedy: controller.Remedy(t.Interlock, t.Detail)})
	}
	return all
}

// leftBenches are the benches that left the file.
func leftBenches(st *controller.Status, zone *time.Location) []LeftBench {
	wall := func(mono time.Duration) time.Time { return st.Now.Wall.Add(mono - st.Now.Mono) }
	all := []LeftBench{}
	for _, b := range st.Left {
		all = append(all, LeftBench{b.Name, latchedTrips(b.Latched, wall, zone)})
	}
	return all
}

func rowOf(f controller.Flood, n *Names) *controller.Row {
	r := controller.RowOf(f, n.Benches, n.Zone)
	return &r
}
