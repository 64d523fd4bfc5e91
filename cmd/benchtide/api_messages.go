package main

import (
	"context"
	"time"

	"benchtide/controller"
	"benchtide/controller/notify"
	"benchtide/controller/notify/alarm"
	"benchtide/controller/web"
)

// liveMessages shows the desk to the API.
type liveMessages struct {
	desk  *notify.Desk
	heart *notify.Heartbeat // nil without one
	zone  *time.Location
}

var _ web.Messages = liveMessages{}

// refuse turns what the desk does not do into the answer no.
func refuse(err error) error {
	if err == nil {
		return nil
	}
	return web.Refused{Reason: err.Error()}
}

func (l liveMessages) Acknowledge(id int64, by string) error {
	return refuse(l.desk.Acknowledge(id, by))
}

func (l liveMessages) Shelve(id int64, d time.Duration, by string) error {
	return refuse(l.desk.Shelve(id, d, by))
}

func (l liveMessages) Service(id int64, out bool, by string) error {
	return refuse(l.desk.Service(id, out, by))
}

func (l liveMessages) Test() (int, error) {
	n, err := l.desk.Test()
	return n, refuse(err)
}

func (l liveMessages) Confirm(code string) (string, error) {
	way, err := l.desk.Confirm(code)
	return way, refuse(err)
}

func (l liveMessages) Alarms(context.Context) (web.Alarms, error) {
	all := web.Alarms{Alarms: []web.Alarm{}, Undelivered: []web.Undelivered{}}
	st := l.desk.Status()
	for i := range st.Alarms {
		all.Alarms = append(all.Alarms, l.alarm(&st.Alarms[i], &st))
	}
	for _, u := range l.desk.Lost() {
		all.Undelivered = append(all.Undelivered, web.Undelivered{ID: u.ID, Way: u.Way, At: controller.Stamp(u.At, l.zone), Subject: u.Subject, Trouble: u.Error})
	}
	return all, nil
}

func (l liveMessages) alarm(a *alarm.Alarm, st *notify.Status) web.Alarm {
	shown := web.Alarm{
		ID: a.ID, Cause: a.Cause, Urgency: string(a.Urgency), State: string(a.State()), Since: controller.Stamp(a.At, l.zone),
		Count: a.Count, Text: a.Text, Happened: a.Happened, Done: a.Done, Do: a.Do, By: l.stamp(a.By),
	}
	if a.Bench != "" {
		shown.Bench = &a.Bench
	}
	switch a.State() {
	case alarm.Shelved:
		shown.Who, shown.Until = a.ShelvedBy, l.stamp(st.Now.Wall.Add(a.Shelf-st.Now.Mono))
	case alarm.OutOfService:
		shown.Who = a.OutBy
	default:
		shown.Who = a.KnownTo
	}
	return shown
}

// status is how the messages fare.
func (l liveMessages) status() web.MessagesStatus {
	st := l.desk.Status()
	shown := web.MessagesStatus{LastConfirmed: l.stamp(st.Confirmed()), Unacknowledged: st.Urgent, Ways: []web.WayStatus{}, Trouble: textOrNil(st.Trouble)}
	for _, w := range st.Ways {
		shown.Ways = append(shown.Ways, web.WayStatus{
			Name: w.Name, Waiting: w.Waiting, Undelivered: w.Undelivered,
			LastSent: l.stamp(w.LastSent), Confirmed: l.stamp(w.Confirmed), Trouble: textOrNil(w.Trouble),
		})
	}
	if l.heart != nil {
		h := l.heart.Status()
		shown.Heartbeat = &web.HeartbeatStatus{LastAnswered: l.stamp(h.Last), Trouble: textOrNil(h.Trouble)}
	}
	return shown
}

func (l liveMessages) stamp(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := controller.Stamp(t, l.zone)
	return &s
}

func textOrNil(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}
