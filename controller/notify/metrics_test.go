package notify

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/outbox"
)

func TestMetricsTellHowTheMessagesFare(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mail := &fakeChannel{name: "mail"}
		hook := &fakeChannel{name: "webhook", fails: func(*Message) error { return errGone }}
		r := begin(t, &outbox.Memory{}, mail, hook)
		defer r.stop()
		heart := &Heartbeat{}
		c := NewCollector(r.Dispatcher, heart)
		problems, err := testutil.CollectAndLint(c)
		require.NoError(t, err)
		assert.Empty(t, problems)
		r.turn(urgent("crop-basil"))
		r.after(time.Second)
		require.NoError(t, testutil.CollectAndCompare(c, strings.NewReader(`
# HELP benchtide_alarms Alarms that are not over.
# TYPE benchtide_alarms gauge
benchtide_alarms{state="acknowledged"} 0
benchtide_alarms{state="out of service"} 0
benchtide_alarms{state="returned"} 0
benchtide_alarms{state="shelved"} 0
benchtide_alarms{state="unacknowledged"} 1
# HELP benchtide_messages_delivered_total Messages that the other side has taken.
# TYPE benchtide_messages_delivered_total counter
benchtide_messages_delivered_total{way="mail"} 1
benchtide_messages_delivered_total{way="webhook"} 0
# HELP benchtide_messages_waiting Messages that wait to be delivered.
# TYPE benchtide_messages_waiting gauge
benchtide_messages_waiting{way="mail"} 0
benchtide_messages_waiting{way="webhook"} 1
# HELP benchtide_message_last_confirmed_timestamp_seconds When a person last answered a test message; 0 when never.
# TYPE benchtide_message_last_confirmed_timestamp_seconds gauge
benchtide_message_last_confirmed_timestamp_seconds{way="mail"} 0
benchtide_message_last_confirmed_timestamp_seconds{way="webhook"} 0
`), "benchtide_alarms", "benchtide_messages_delivered_total", "benchtide_messages_waiting", "benchtide_message_last_confirmed_timestamp_seconds"))
		assert.Positive(t, testutil.CollectAndCount(c, "benchtide_message_attempts_failed_total"))
	})
}
