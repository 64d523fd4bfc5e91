package client

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/live"
	"benchtide/controller/web"
)

// Alarms lists the alarms that are not over.
type Alarms struct{ ask.Question }

// Help is what its --help says beside the flags, with an example.
func (Alarms) Help() string {
	return `Each with its number, and the messages that nobody took in their time.

Example:

    benchtide alarms`
}

// Run prints them.
func (c Alarms) Run(ctx context.Context, s *cli.Session) error {
	return ask.Show(ctx, s, c.Question, "alarms", nil, writeAlarms)
}

func writeAlarms(w io.Writer, all *live.Alarms) error {
	var b strings.Builder
	if len(all.Alarms) == 0 {
		fmt.Fprintln(&b, "No alarm.")
	}
	for i := range all.Alarms {
		a := &all.Alarms[i]
		fmt.Fprintf(&b, "%d  [%s] %s since %s", a.ID, a.Urgency, a.State, ask.Clock(a.Since, ask.DayAndTime))
		if a.Until != nil {
			fmt.Fprintf(&b, " until %s", ask.Clock(*a.Until, ask.DayAndTime))
		}
		if a.Who != "" {
			fmt.Fprintf(&b, " by %s", a.Who)
		}
		fmt.Fprintf(&b, "\n   %s\n", a.Text)
		for _, h := range a.History[min(1, len(a.History)):] {
			fmt.Fprintf(&b, "     %s  %s\n", ask.Clock(h.At, ask.DayAndTime), h.Text)
		}
	}
	for _, u := range all.Undelivered {
		fmt.Fprintf(&b, "! never delivered by %s, %s: %s (%s)\n", u.Channel, ask.Clock(u.At, ask.DayAndTime), u.Subject, u.Trouble)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// writeMessages is the part of the status that tells how messages fare.
func writeMessages(w io.Writer, m *live.MessagesStatus) {
	if m.Unacknowledged > 0 {
		fmt.Fprintf(w, "alarms\t! %d for now wait to be acknowledged: see \"benchtide alarms\"\n", m.Unacknowledged)
	}
	for _, channel := range m.Channels {
		said := "never confirmed: try \"benchtide test-message\""
		if channel.Confirmed != nil {
			said = "last confirmed " + ask.Clock(*channel.Confirmed, "Mon 2 Jan 2006 15:04")
		}
		fmt.Fprintf(w, "%s\t%s\n", channel.Name, said)
		if channel.Trouble != nil {
			fmt.Fprintf(w, "\t! does not get out, %d wait: %s\n", channel.Waiting, *channel.Trouble)
		}
		if channel.Undelivered > 0 {
			fmt.Fprintf(w, "\t! %d never delivered: see \"benchtide alarms\"\n", channel.Undelivered)
		}
	}
	if h := m.Heartbeat; h != nil {
		said := "not answered yet"
		if h.LastAnswered != nil {
			said = "last answered " + ask.Clock(*h.LastAnswered, ask.DayAndTime)
		}
		fmt.Fprintf(w, "heartbeat\t%s\n", said)
		if h.Trouble != nil {
			fmt.Fprintf(w, "\t! %s\n", *h.Trouble)
		}
	}
	if m.Trouble != nil {
		fmt.Fprintf(w, "messages\t! kept in memory alone: %s\n", *m.Trouble)
	}
}

type acknowledgeFields struct {
	Alarm string `arg:"" help:"The number of an alarm, or all."`
	By    string `placeholder:"NAME" help:"Who knows, for the list."`
}

func (f acknowledgeFields) request() (any, error) {
	if f.Alarm == "all" {
		return web.AcknowledgeRequest{By: f.By}, nil
	}
	id, err := strconv.ParseInt(f.Alarm, 10, 64)
	if err != nil || id < 1 {
		return nil, cli.Usagef("alarm %q: give its number, as \"benchtide alarms\" shows it, or all", f.Alarm)
	}
	return web.AcknowledgeRequest{Alarm: id, By: f.By}, nil
}

type shelveFields struct {
	Alarm int64  `arg:"" help:"The number of an alarm."`
	Until string `placeholder:"TIME" help:"When it is told anew if it still stands, such as \"2 h\"; without it, now."`
	By    string `placeholder:"NAME" help:"Who shelves it, for the list."`
}

func (f shelveFields) request() (any, error) {
	return web.ShelveRequest{Alarm: f.Alarm, Until: f.Until, By: f.By}, nil
}

type serviceFields struct {
	State string `arg:"" name:"out|in" enum:"out,in" help:"out while somebody works on the cause of an alarm, in afterwards."`
	Alarm int64  `arg:"" help:"The number of an alarm."`
	By    string `placeholder:"NAME" help:"Who does it, for the list."`
}

func (f serviceFields) request() (any, error) {
	return web.ServiceRequest{Alarm: f.Alarm, Out: f.State == "out", By: f.By}, nil
}

// noFields are of an act that wants to know nothing.
type noFields struct{}

func (noFields) request() (any, error) { return web.TestRequest{}, nil }

type confirmFields struct {
	Code string `arg:"" help:"The code of the test message."`
}

func (f confirmFields) request() (any, error) { return web.ConfirmRequest{Code: f.Code}, nil }
