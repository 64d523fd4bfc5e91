package web

import (
	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// Floods are rows of the ledger.
type Floods struct {
	Floods []controller.Row `json:"floods"`
	Titles texts.Titles     `json:"titles,omitzero"` // as of live.Calendar
}

// Trips are what the guard did.
type Trips struct {
	Trips []live.Trip `json:"trips"`
}

// Diary is the diary.
type Diary struct {
	Entries []live.DiaryEntry `json:"entries"`
	Units   quantity.Units    `json:"units"` // in which people read their values; those here are in unit
	Titles  texts.Titles      `json:"titles,omitzero"`
}
