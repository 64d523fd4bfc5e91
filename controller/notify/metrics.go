package notify

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"benchtide/controller/notify/alarm"
)

// Collector shows how the messages fare. Its labels are the channels of the file
// and the states of an alarm.
type Collector struct {
	dispatcher *Dispatcher
	heart      *Heartbeat // nil without one
}

// NewCollector returns the collector of a dispatcher and a heartbeat, which may be
// nil.
func NewCollector(d *Dispatcher, h *Heartbeat) *Collector { return &Collector{d, h} }

var _ prometheus.Collector = (*Collector)(nil)

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("benchtide_"+name, help, labels, nil)
}

var (
	waitingDesc   = desc("messages_waiting", "Messages that wait to be delivered.", "way")
	deliveredDesc = desc("messages_delivered_total", "Messages that the other side has taken.", "way")
	failedDesc    = desc("message_attempts_failed_total", "Attempts to deliver a message that failed.", "way")
	lostDesc      = desc("messages_undelivered", "Messages on record that nobody took in their time.", "way")
	sentDesc      = desc("message_last_delivered_timestamp_seconds", "When a message was last taken by the other side; 0 when never.", "way")
	confirmedDesc = desc("message_last_confirmed_timestamp_seconds", "When a person last answered a test message; 0 when never.", "way")
	storageDesc   = desc("messages_storage_ok", "1 while the queue of messages is written down.")
	alarmsDesc    = desc("alarms", "Alarms that are not over.", "state")
	beatDesc      = desc("heartbeat_last_answered_timestamp_seconds", "When the outside heartbeat was last answered; 0 when never.")
	beatsDesc     = desc("heartbeats_total", "Calls of the outside heartbeat.", "answered")
)

// Describe lists everything that Collect can give.
func (c *Collector) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{waitingDesc, deliveredDesc, failedDesc, lostDesc, sentDesc, confirmedDesc, storageDesc, alarmsDesc, beatDesc, beatsDesc} {
		ch <- d
	}
}

// Collect gives the present figures.
func (c *Collector) Collect(ch chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	counter := func(d *prometheus.Desc, v uint64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, float64(v), labels...)
	}
	st := c.dispatcher.Status()
	for _, w := range st.Channels {
		gauge(waitingDesc, float64(w.Waiting), w.Name)
		counter(deliveredDesc, w.Delivered, w.Name)
		counter(failedDesc, w.Failed, w.Name)
		gauge(lostDesc, float64(w.Undelivered), w.Name)
		gauge(sentDesc, unix(w.LastSent), w.Name)
		gauge(confirmedDesc, unix(w.Confirmed), w.Name)
	}
	ok := 1.0
	if st.Trouble != "" {
		ok = 0
	}
	gauge(storageDesc, ok)
	counts := map[alarm.State]int{}
	for i := range st.Alarms {
		counts[st.Alarms[i].State()]++
	}
	for _, s := range []alarm.State{alarm.Unacknowledged, alarm.Acknowledged, alarm.Returned, alarm.Shelved, alarm.OutOfService} {
		gauge(alarmsDesc, float64(counts[s]), string(s))
	}
	if c.heart != nil {
		h := c.heart.Status()
		gauge(beatDesc, unix(h.Last))
		counter(beatsDesc, h.Sent, "yes")
		counter(beatsDesc, h.Failed, "no")
	}
}

func unix(t time.Time) float64 {
	if t.IsZero() {
		return 0
	}
	return float64(t.UnixMilli()) / 1000
}
