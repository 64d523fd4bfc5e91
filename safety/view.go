package safety

import "time"

// Switch is a filtered switch: its level after the make and break delays, and
// the boot-time clock of the raw change that led to it.
type Switch struct {
	Level Level
	Since time.Duration
}

// Refusal says why the guard would not let a run start now. Its zero value
// means that it would.
type Refusal struct {
	Interlock Interlock
	Latched   bool          // a person has to reset it
	Detail    string        // in words, for a person
	Until     time.Duration // boot-time clock when it may clear by itself; 0 when unknown
}

// Refused reports whether the guard refuses.
func (r Refusal) Refused() bool { return r.Interlock != "" }

// Trip is an interlock that ended, or is about to end, a run.
type Trip struct {
	Interlock Interlock     `json:"interlock"`
	At        time.Duration `json:"at_ns"` // boot-time clock
	Latched   bool          `json:"latched"`
	Detail    string        `json:"detail"` // in words, for a person
}

// WaterState is what the guard can say of the water on a table.
type WaterState uint8

// The states of the water on a table.
const (
	Gone     WaterState = iota // the table has emptied, as far as its switches can tell
	Standing                   // a run put water there, or a restart forgot
)

// BenchView is what the guard shows of one bench after a turn's readings.
type BenchView struct {
	Full, High, Empty, Leak Switch

	Pump     bool          // the flood pump runs; false in the turn in which a trip ends its run
	Start    Refusal       // why a run would be refused now
	Trip     Trip          // the trip that ended that run with the pump on; zero while there is none
	Flood    int64         // identity of the present or last run
	Attempt  int           // with Flood; 0 for the first run of a slot
	Started  time.Duration // when that run started
	Stopped  time.Duration // when its pump stopped; meaningful when Pump is false
	FullAt   time.Duration // when FULL was first made in that run; 0 when it was not
	FullFor  time.Duration // how long FULL has stood in that run with the pump on
	Water    WaterState    // of that run; a failed fill's stands until it is home or given up
	GoneAt   time.Duration // when the water of that run was gone; meaningful when Water is Gone
	LateGone bool          // the water of that run was not gone in time
	Retry    bool          // a failed fill whose water came home: one retry is allowed inside the same slot
	Watched  bool          // a reset is waiting for its watched flood
	Latched  []Trip        // trips that wait for a person; first cause first
	Weld     bool          // its pump relay is proven welded
}

// ReservoirView is what the guard shows of one reservoir.
type ReservoirView struct {
	Low           Switch
	Level         Switch
	Temperature   Celsius       // of the solution, as believed last
	TemperatureAt time.Duration // boot-time clock of that; of the program's start before the first
	Believed      bool          // it may stand for the present one; never without a thermometer
}

// View is what the guard shows the controller in one turn.
type View struct {
	Benches    []BenchView
	Reservoirs []ReservoirView
	HandsIn    bool
	Left       []LeftBench // by name; made anew when it changes
}

// LeftBench is a bench that left the file. What the guard keeps of it stays
// until a person has it dropped.
type LeftBench struct {
	Name    string
	Latched []Trip // first cause first
}
