package live

import (
	"cmp"
	"context"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/notify"
	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
	"benchtide/controller/texts"
)

// Dispatcher is what the site needs of the messages.
type Dispatcher interface {
	Status() notify.Status
	Lost() []outbox.Lost
	Acknowledge(id int64, by string) error
	Shelve(id int64, d time.Duration, by string) error
	Service(id int64, out bool, by string) error
	Test() (int, error)
	Confirm(code string) (string, error)
}

// Heart calls an address outside for as long as the loop lives.
type Heart interface{ Status() notify.HeartbeatStatus }

// Messages are the alarms of a site and the channels by which people are told of
// them. Errors are a Refused.
type Messages struct {
	dispatcher Dispatcher
	heart      Heart // nil without one
	zone       *time.Location
	called     texts.Titles
}

// refuse turns what the dispatcher does not do into the answer no.
func refuse(err error) error {
	if err == nil {
		return nil
	}
	return Refused{Reason: err.Error()}
}

// Acknowledge silences an alarm, or all for 0; it resets nothing.
func (l Messages) Acknowledge(id int64, by string) error {
	return refuse(l.dispatcher.Acknowledge(id, by))
}

// Shelve keeps an alarm silent for a time; 0 ends that.
func (l Messages) Shelve(id int64, d time.Duration, by string) error {
	return refuse(l.dispatcher.Shelve(id, d, by))
}

// Service takes an alarm out of service, or puts it back.
func (l Messages) Service(id int64, out bool, by string) error {
	return refuse(l.dispatcher.Service(id, out, by))
}

// Test sends a message that wants an answer and returns by how many channels.
func (l Messages) Test() (int, error) {
	n, err := l.dispatcher.Test()
	return n, refuse(err)
}

// Confirm takes such an answer and returns by which channel it came.
func (l Messages) Confirm(code string) (string, error) {
	channel, err := l.dispatcher.Confirm(code)
	return channel, refuse(err)
}

// Alarms are what is not over, and what was told of but reached nobody.
func (l Messages) Alarms(context.Context) (Alarms, error) {
	all := Alarms{Alarms: []Alarm{}, Undelivered: []Undelivered{}}
	st := l.dispatcher.Status()
	for i := range st.Alarms {
		all.Alarms = append(all.Alarms, l.alarm(&st.Alarms[i], &st))
	}
	slices.SortStableFunc(all.Alarms, func(a, b Alarm) int { return cmp.Compare(rank(a.Urgency), rank(b.Urgency)) })
	for _, u := range l.dispatcher.Lost() {
		all.Undelivered = append(all.Undelivered, Undelivered{ID: u.ID, Channel: u.Channel, At: controller.Stamp(u.At, l.zone), Subject: u.Subject, Trouble: u.Error})
	}
	return all, nil
}

func (l Messages) alarm(a *alarm.Alarm, st *notify.Status) Alarm {
	shown := Alarm{
		ID: a.ID, Cause: a.Cause, Words: a.Words(l.called), History: []Past{}, Urgency: string(a.Urgency), State: string(a.State()), Since: controller.Stamp(a.At, l.zone),
		Count: a.Count, Text: a.Text, Happened: a.Happened, Done: a.Done, Do: a.Do, By: l.stamp(a.By),
	}
	for _, h := range a.History {
		shown.History = append(shown.History, Past{controller.Stamp(h.At, l.zone), h.Text})
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
func (l Messages) status() MessagesStatus {
	st := l.dispatcher.Status()
	shown := MessagesStatus{LastConfirmed: l.stamp(st.Confirmed()), Unacknowledged: st.Urgent, Channels: []ChannelStatus{}, Trouble: textOrNil(st.Trouble)}
	for _, w := range st.Channels {
		shown.Channels = append(shown.Channels, ChannelStatus{
			Name: w.Name, Waiting: w.Waiting, Undelivered: w.Undelivered,
			LastSent: l.stamp(w.LastSent), Confirmed: l.stamp(w.Confirmed), Trouble: textOrNil(w.Trouble),
		})
	}
	if l.heart != nil {
		h := l.heart.Status()
		shown.Heartbeat = &HeartbeatStatus{LastAnswered: l.stamp(h.Last), Trouble: textOrNil(h.Trouble)}
	}
	return shown
}

func (l Messages) stamp(t time.Time) *string { return controller.StampOrNil(t, l.zone) }

func textOrNil(text string) *string {
	if text == "" {
		return nil
	}
	return &text
}
