package web

import (
	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
)

// Floods are rows of the ledger.
type Floods struct {
	Floods []controller.Row `json:"floods"`
}

// Trips are what the guard did.
type Trips struct {
	Trips []live.Trip `json:"trips"`
}

// Diary is the diary.
type Diary struct {
	Entries []live.DiaryEntry `json:"entries"`
	Units   quantity.Units    `json:"units"` // in which people read their values; those here are in unit
}
