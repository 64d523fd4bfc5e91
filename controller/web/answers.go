package web

import (
	"benchtide/controller"
	"benchtide/controller/live"
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
}
