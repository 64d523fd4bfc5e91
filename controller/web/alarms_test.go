package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/web"
)

// fakeMessages has one alarm and answers every act as its site does.
type fakeMessages struct{ site *fakeSite }

func (m *fakeMessages) Alarms(context.Context) (live.Alarms, error) {
	bench, at := "north", controller.Stamp(noon, time.UTC)
	return live.Alarms{
		Alarms:      []live.Alarm{{ID: 7, Bench: &bench, Cause: "high-level", Words: "Water too high", History: []live.Past{{At: at, Text: "Water came too high."}}, Urgency: "now", State: "shelved", Since: at, By: &at, Until: &at}},
		Undelivered: []live.Undelivered{{ID: "msg_1", Channel: "mail", At: at}},
	}, m.site.err
}

func (m *fakeMessages) Acknowledge(id int64, by string) error {
	return m.site.act("acknowledge %d by %s", id, by)
}
func (m *fakeMessages) Shelve(id int64, d time.Duration, by string) error {
	return m.site.act("shelve %d for %s by %s", id, d, by)
}
func (m *fakeMessages) Service(id int64, out bool, by string) error {
	return m.site.act("service %d out %t by %s", id, out, by)
}
func (m *fakeMessages) Test() (int, error) { return 2, m.site.act("test") }
func (m *fakeMessages) Confirm(code string) (string, error) {
	return "mail", m.site.act("confirm %s", code)
}

func TestActsOnAlarmsReachTheDesk(t *testing.T) {
	for _, c := range []struct{ path, body, act, says string }{
		{"/acknowledge", `{"alarm":7,"by":"Kim"}`, "acknowledge 7 by Kim", "alarm 7 is acknowledged and silent; nothing is reset"},
		{"/acknowledge", `{}`, "acknowledge 0 by ", "every alarm is acknowledged and silent; nothing is reset"},
		{"/shelve", `{"alarm":7,"until":"2 h"}`, "shelve 7 for 2h0m0s by ", "alarm 7 is silent until Thu 12 Mar 14:00, and told anew if it still stands then"},
		{"/shelve", `{"alarm":7}`, "shelve 7 for 0s by ", "alarm 7 is back from the shelf"},
		{"/service", `{"alarm":7,"out":true,"by":"Kim"}`, "service 7 out true by Kim", "alarm 7 is out of service until somebody puts it back; every digest says so"},
		{"/service", `{"alarm":7}`, "service 7 out false by ", "alarm 7 is in service"},
		{"/test-message", `{}`, "test", "a test message is on its way by 2 ways; each holds a code that wants to be confirmed"},
		{"/confirm", `{"code":"123456"}`, "confirm 123456", "messages by mail are confirmed"},
	} {
		r := newRig(t)
		w := r.request("POST", c.path, c.body)
		require.Equal(t, http.StatusOK, w.Code, w.Body)
		var done web.Done
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &done))
		assert.Equal(t, c.says, done.Done)
		assert.Equal(t, []string{c.act}, r.site.acts)

		r = newRig(t)
		r.site.err = live.Refused{Reason: "there is none of this number"}
		w = r.request("POST", c.path, c.body)
		assert.Equal(t, http.StatusConflict, w.Code, c.path)
		assert.Equal(t, "there is none of this number", problem(t, w).Detail)
	}
}
