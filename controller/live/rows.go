package live

import (
	"benchtide/controller/ledger"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// Trip is something the guard did, or a reset.
type Trip struct {
	At        string `json:"at"`
	Bench     string `json:"bench"` // empty for the site or a reservoir
	Interlock string `json:"interlock"`
	Words     string `json:"words"` // what people call it
	Act       string `json:"act"`   // tripped, latched, weld-proven or reset
	Latched   bool   `json:"latched"`
	Detail    string `json:"detail"` // of a reset: what was found
	Times     int    `json:"times"`  // that it acted from at to last without latching; 1 for most
	Last      string `json:"last"`
	Remedy    string `json:"remedy"` // what a person can do about it; of a reset empty
}

// DiaryEntry is one entry of the diary.
type DiaryEntry struct {
	At    string   `json:"at"`
	Place string   `json:"place"`
	Kind  string   `json:"kind"`
	Value *float64 `json:"value"`
	Unit  string   `json:"unit"`
	Text  string   `json:"text"`
}

// Day sums one local day up.
type Day = ledger.Day

// Facts are what does not change while the program runs: the drawings of the
// benches and what they come to.
type Facts struct {
	Site       string           `json:"site"`
	Units      quantity.Units   `json:"units"` // as of Status
	Timezone   string           `json:"timezone"`
	Version    string           `json:"version"`
	Benches    []BenchFacts     `json:"benches"`
	Reservoirs []ReservoirFacts `json:"reservoirs"`
	Batches    []BatchFacts     `json:"batches"`

	Called texts.Titles `json:"-"` // what people call them
}

// BenchFacts are the numbers of one bench.
type BenchFacts struct {
	Name         string   `json:"name"`
	Title        string   `json:"title,omitempty"` // as of BenchStatus
	Reservoir    string   `json:"reservoir"`
	Pump         string   `json:"pump"`
	LengthMM     float64  `json:"length_mm"`
	WidthMM      float64  `json:"width_mm"`
	RimMM        float64  `json:"rim_mm"`
	CrestMM      float64  `json:"crest_mm"`
	BoreMM       float64  `json:"standpipe_bore_mm"`
	FullMM       *float64 `json:"full_at_mm"`
	HighMM       *float64 `json:"high_at_mm"`
	EmptyMM      *float64 `json:"empty_at_mm"`
	ThroughPump  bool     `json:"drains_through_pump"`
	FloodL       float64  `json:"v_flood_l"`
	FillS        float64  `json:"t_fill_s"`
	FallS        float64  `json:"t_fall_s"`
	DrainS       float64  `json:"t_drain_s"`
	OverS        float64  `json:"t_over_s"`
	FlowLPerHour float64  `json:"flow_l_per_h"`
}

// ReservoirFacts are the numbers of one reservoir.
type ReservoirFacts struct {
	Name    string   `json:"name"`
	Title   string   `json:"title,omitempty"`
	UsableL float64  `json:"usable_l"`
	KeepL   float64  `json:"keep_l"`
	LowL    *float64 `json:"low_at_l"`
}

// BatchFacts are what is planted.
type BatchFacts struct {
	Name         string  `json:"name"`
	Title        string  `json:"title,omitempty"`
	Bench        string  `json:"bench"`
	Plan         string  `json:"plan"`
	PlanTitle    string  `json:"plan_title,omitempty"`
	Transplanted string  `json:"transplanted"`   // the day from which ages count: that of sowing where they stay in the pots they were sown in
	Sown         string  `json:"sown,omitempty"` // empty where the file does not say
	Pots         int     `json:"pots"`
	PotTopMM     float64 `json:"pot_top_mm"`
}
