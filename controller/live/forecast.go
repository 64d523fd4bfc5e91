package live

import (
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// Outlook is what the plants will need beside what is planned for them.
type Outlook struct {
	From     string   `json:"from"`
	Days     int      `json:"days"`
	Plants   []Plants `json:"plants"`
	Supplies []Supply `json:"supplies"`
	Assumed  []string `json:"assumed"`

	Units quantity.Units `json:"units"` // in which people read figures; those here are metric

	Proposals []Proposal `json:"proposals"` // nothing comes of them by itself
	Questions []Question `json:"questions"`

	Titles texts.Titles `json:"titles,omitzero"` // as of Calendar
}

// Proposal is a stage that a batch might enter, when a person has it advance.
type Proposal struct {
	Batch   string `json:"batch"`
	FromDay int    `json:"stage_from_day"`
	Words   string `json:"words"` // why, and what speaks against it
}

// Question is something that only a person can tell.
type Question struct {
	Bench string `json:"bench"`
	Words string `json:"words"`
}

// Cohort is pots of one age within a batch.
type Cohort struct {
	Since string `json:"since"`
	Pots  int    `json:"pots"`
}

// Solution is how a nutrient solution stands by the diary.
type Solution struct {
	Known    bool     `json:"known"`            // its last change is written down
	Days     float64  `json:"days"`             // since then
	Turnover float64  `json:"turnover"`         // what was added since over what the reservoir holds
	EC       *float64 `json:"ec_ms_per_cm"`     // as it was read last
	Drift    float64  `json:"ec_drift_per_day"` // mS/cm
	Reasons  []string `json:"reasons"`          // to change it
}

// Plants is one batch that stands on its bench.
type Plants struct {
	Batch   string   `json:"batch"`
	Bench   string   `json:"bench"`
	AgeDays int      `json:"age_days"`
	HoldsL  float64  `json:"holds_l"` // one pot at container capacity
	Limit   float64  `json:"limit"`   // share of that below which plants begin to suffer
	Courses []Course `json:"courses"` // on mild, normal and hottest days
	Advice  []string `json:"advice"`

	Pots     int      `json:"pots"` // that stand by the diary
	Lost     int      `json:"lost"`
	MovedOut int      `json:"moved_out"`
	Ages     []Cohort `json:"ages"` // the eldest first
}

// Course is the water in a pot, as planned floods and days of one kind make it.
type Course struct {
	Weather string       `json:"weather"`
	Water   [][2]float64 `json:"water"` // hours since midnight of From by the clock on the wall; share of what a pot holds
	Lowest  float64      `json:"lowest"`
	DailyL  float64      `json:"daily_l"` // that the batch uses on the last of the days
}

// Supply is how long a reservoir lasts.
type Supply struct {
	Reservoir   string     `json:"reservoir"`
	DailyL      float64    `json:"daily_l"`      // on normal days
	HottestL    float64    `json:"hottest_l"`    // on the hottest
	SpanL       [2]float64 `json:"span_l"`       // between which the mean of the days lies, 9 times in 10
	Days        *float64   `json:"days"`         // until it cannot make a flood, from the litres of the status; null when nothing is used
	DaysHottest *float64   `json:"days_hottest"` // the same while every day is hot
	SpanDays    []*float64 `json:"span_days"`    // between which Days lies, 9 times in 10; null for infinite, and empty while nobody knows what it holds
	FullDays    *float64   `json:"full_days"`    // the same from the usable litres
	AtLeast     bool       `json:"at_least"`     // what it holds is not known better than from its low switch
	Words       string     `json:"words"`        // what the use is worked out from

	ToppedUpL float64   `json:"topped_up_l"` // a day, by the diary; 0 where it does not tell
	Suspect   bool      `json:"suspect"`     // what was topped up cannot be what plants used: look for a leak
	Solution  *Solution `json:"solution"`    // null without a record
}

// TopUp answers whether a reservoir may be topped up now.
type TopUp struct {
	OK    bool   `json:"ok"`
	Words string `json:"words"`
}
