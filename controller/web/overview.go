package web

import (
	"context"
	"net/http"
	"time"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/schedule"
)

// Bounds of an overview: it is what a person looks at first, on a phone.
const (
	overviewDays  = 3  // of the outlook, today the first
	overviewTrips = 10 // newest
	overviewDiary = 10
)

// Overview is all that a first look needs, in one answer.
type Overview struct {
	Facts    live.Facts        `json:"facts"`
	Status   live.Status       `json:"status"`
	Today    []controller.Row  `json:"today"`   // floods that were due since midnight
	Planned  []live.Planned    `json:"planned"` // floods to come, up to the end of tomorrow
	Outlook  live.Outlook      `json:"outlook"`
	Trips    []live.Trip       `json:"trips"`    // the newest
	Diary    []live.DiaryEntry `json:"diary"`    // the newest
	Recorded *string           `json:"recorded"` // why the record could not be read; what comes from it is empty then
}

func (a *API) overview(w http.ResponseWriter, r *http.Request) error {
	if _, err := parameters(r); err != nil {
		return err
	}
	st, err := a.Site.Status(r.Context())
	if err != nil {
		return err
	}
	now, err := time.Parse(time.RFC3339, st.At)
	if err != nil {
		return err
	}
	o := Overview{Facts: a.Facts, Status: st, Planned: []live.Planned{}}
	today := schedule.CivilIn(now, a.Zone).Date()
	if o.Outlook, err = a.Site.Outlook(r.Context(), today, overviewDays); err != nil {
		return err
	}
	calendar, err := a.Site.Calendar(today, 2)
	if err != nil {
		return err
	}
	for _, p := range calendar.Floods {
		if due, err := time.Parse(time.RFC3339, p.Due); err == nil && due.After(now) {
			o.Planned = append(o.Planned, p)
		}
	}
	if err := a.recorded(r.Context(), &o, today); err != nil {
		why := err.Error()
		o.Recorded = &why
	}
	a.answer(w, o)
	return nil
}

// recorded adds what the record knows. The rest is shown without it: a page that
// shows nothing because storage is gone is of no use to anybody.
func (a *API) recorded(ctx context.Context, o *Overview, today schedule.Date) (err error) {
	o.Trips, o.Diary = []live.Trip{}, []live.DiaryEntry{}
	o.Today, err = a.Record.Floods(ctx, live.Query{Since: today.At(0).In(a.Zone)})
	if o.Today == nil {
		o.Today = []controller.Row{}
	}
	if err != nil {
		return err
	}
	trips, err := a.Record.Trips(ctx, live.Query{Limit: overviewTrips})
	if err != nil {
		return err
	}
	o.Trips = trips
	diary, err := a.Record.Diary(ctx, live.Query{Limit: overviewDiary})
	if err != nil {
		return err
	}
	o.Diary = diary
	return nil
}

func (a *API) outlook(w http.ResponseWriter, r *http.Request) error {
	values, err := parameters(r, "days")
	if err != nil {
		return err
	}
	days, err := number(values, "days", usualDays, mostOutlook)
	if err != nil {
		return err
	}
	now, err := a.now(r)
	if err != nil {
		return err
	}
	o, err := a.Site.Outlook(r.Context(), schedule.CivilIn(now, a.Zone).Date(), days)
	if err != nil {
		return err
	}
	a.answer(w, o)
	return nil
}
