package safety

// Interlock is the fixed name of one rule of the guard, as used in code,
// ledger, metrics and page.
type Interlock string

// The interlocks, each with what it refuses, what ends a run, and when it
// latches.
const (
	// HighLevel: HIGH made or unreadable refuses and ends every run behind its
	// enable relay; its own bench latches after MakeDelay or at the third time
	// in 24 h.
	HighLevel Interlock = "high-level"
	// NotEmpty: FULL or EMPTY shows water; latches when that outlasts 1.5 × its time.
	NotEmpty Interlock = "not-empty"
	// FillWindow: FULL before 0.5 × Fill, not by 1.5 × Fill, or lost for
	// LostFor ends the run; latches unless the water is known to come home.
	FillWindow Interlock = "fill-window"
	// DrainWindow: FULL not clear 1.5 × Fall, at least MinFallLimit, after the
	// stop, or EMPTY 1.5 × Drain, opens the enable relay and latches.
	DrainWindow Interlock = "drain-window"
	// MaxRun: a run still wanted at its limit; latches.
	MaxRun Interlock = "max-run"
	// DailyRun: the pump time of a rolling day is spent; latches when that ends a run.
	DailyRun Interlock = "daily-run"
	// MinRest: the pump has not been off for Drain and RestMargin; never latches.
	MinRest Interlock = "min-rest"
	// Starts: more than StartsPerHour or StartsPerDay; never latches.
	Starts Interlock = "starts"
	// ReservoirLow: too little water for a flood, or the counted litres reach
	// what the reservoir keeps; never latches.
	ReservoirLow Interlock = "reservoir-low"
	// LeakFound: the floor is wet; latches after MakeDelay, or at the third time
	// in 24 h.
	LeakFound Interlock = "leak"
	// LostWater: the controller finds that floods lose water; latches.
	LostWater Interlock = "lost-water"
	// Chatter: a switch changes more often than water can; latches.
	Chatter Interlock = "chatter"
	// Implausible: the switches say what water cannot do; latches.
	Implausible Interlock = "implausible"
	// Stale: a switch is not read, or the board does not obey, while a pump
	// runs; latches at the second time in 24 h.
	Stale Interlock = "stale"
	// Stalled: a turn comes more than StallAfter late while a pump runs; latches.
	Stalled Interlock = "stalled"
	// RestartStorm: three program starts in 30 min with a pump run in each
	// refuse for 30 min; the second time in 24 h latches every bench.
	RestartStorm Interlock = "restart-storm"
	// StateLost: what the guard kept of a bench is missing or damaged in a record
	// that is not new; latches at the start.
	StateLost Interlock = "state-lost"
	// Cold: the solution is at or below ColdLimit; never latches. A thermometer
	// that says nothing for BelievedFor stops no flood: crops outlive a cold flood
	// better than none, and a person is told.
	Cold Interlock = "cold"
)

// HandsIn is the reason of a refusal while a person works in the bench. It is
// not an interlock: nothing is wrong.
const HandsIn Interlock = "hands-in"

// Interlocks lists every interlock, in the order in which people and programs see them.
var Interlocks = []Interlock{
	HighLevel, NotEmpty, FillWindow, DrainWindow, MaxRun, DailyRun, MinRest, Starts,
	ReservoirLow, LeakFound, LostWater, StateLost, Chatter, Implausible, Stale, Stalled, RestartStorm, Cold,
}
