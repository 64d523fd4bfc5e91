package safety

// Interlock is the fixed name of one rule of the guard, as used in code,
// ledger, metrics and page.
type Interlock string

// The interlocks. Guard.Observe and Guard.Allow say what each one does.
const (
	HighLevel    Interlock = "high-level"
	NotEmpty     Interlock = "not-empty"
	FillWindow   Interlock = "fill-window"
	DrainWindow  Interlock = "drain-window"
	MaxRun       Interlock = "max-run"
	DailyRun     Interlock = "daily-run"
	MinRest      Interlock = "min-rest"
	Starts       Interlock = "starts"
	ReservoirLow Interlock = "reservoir-low"
	LeakFound    Interlock = "leak"
	Chatter      Interlock = "chatter"
	Implausible  Interlock = "implausible"
	Stale        Interlock = "stale"
	Stalled      Interlock = "stalled"
	RestartStorm Interlock = "restart-storm"
	Cold         Interlock = "cold"
)

// HandsIn is the reason of a refusal while a person works in the bench. It is
// not an interlock: nothing is wrong.
const HandsIn Interlock = "hands-in"

// Interlocks lists every interlock, in the order of the safety table.
var Interlocks = []Interlock{
	HighLevel, NotEmpty, FillWindow, DrainWindow, MaxRun, DailyRun, MinRest, Starts,
	ReservoirLow, LeakFound, Chatter, Implausible, Stale, Stalled, RestartStorm, Cold,
}
