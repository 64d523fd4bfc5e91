package notify

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"benchtide/controller"
	"benchtide/controller/notify/alarm"
)

// MQTT publishes messages as events and keeps retained topics of the present:
//
//	TOPIC/online         true, or false by the last will when the program is gone
//	TOPIC/alarms         every alarm that is not over
//	TOPIC/benches/NAME   what each bench does
//	TOPIC/events         one message each, not retained; id tells doubles
//
// Everything is sent with quality of service 1.
type MQTT struct {
	Broker   string // mqtts://host:8883, or mqtt:// on this machine
	Topic    string
	User     string
	Password Secret
	CA       string
	ClientID string
	Zone     *time.Location

	dialling sync.Mutex // one connection at a time: a second would end the first

	mu     sync.Mutex // over all below
	client mqtt.Client
	shown  map[string]string // retained topics as they are to be
	sent   map[string]string // as the broker has them
	wake   chan struct{}
}

// Name is the channel's name.
func (m *MQTT) Name() string { return "mqtt" }

// Second reports false: a broker tells machines.
func (m *MQTT) Second() bool { return false }

const (
	atLeastOnce = 1
	mqttTimeout = 20 * time.Second
)

// Send publishes one message and waits until the broker has taken it.
func (m *MQTT) Send(ctx context.Context, p *Message) error {
	b := bodyOf(p)
	body, err := json.Marshal(struct {
		ID string `json:"id"`
		hookBody
	}{p.ID, b})
	if err != nil {
		return Refused{err.Error()}
	}
	c, err := m.connected(ctx)
	if err != nil {
		return err
	}
	return m.publish(ctx, c, "events", string(body), false)
}

func (m *MQTT) publish(ctx context.Context, c mqtt.Client, topic, body string, retained bool) error {
	return m.wait(ctx, "publish", c.Publish(m.Topic+"/"+topic, atLeastOnce, retained, body))
}

func (m *MQTT) wait(ctx context.Context, what string, t mqtt.Token) error {
	timer := time.NewTimer(mqttTimeout)
	defer timer.Stop()
	select {
	case <-t.Done():
		if err := t.Error(); err != nil {
			return fmt.Errorf("%s: %w", what, err)
		}
		return nil
	case <-timer.C:
		return fmt.Errorf("%s: no answer of the broker within %s", what, mqttTimeout)
	case <-ctx.Done():
		return ctx.Err()
	}
}

// connected returns a client with a connection.
func (m *MQTT) connected(ctx context.Context) (mqtt.Client, error) {
	m.dialling.Lock()
	defer m.dialling.Unlock()
	m.mu.Lock()
	c := m.client
	m.mu.Unlock()
	if c != nil && c.IsConnectionOpen() {
		return c, nil
	}
	if c != nil {
		c.Disconnect(0)
	}
	options, err := m.options()
	if err != nil {
		return nil, err
	}
	c = mqtt.NewClient(options)
	if err := m.wait(ctx, "connect", c.Connect()); err != nil {
		c.Disconnect(0)
		return nil, err
	}
	m.mu.Lock()
	m.client, m.sent = c, map[string]string{}
	m.mu.Unlock()
	return c, m.publish(ctx, c, "online", "true", true)
}

func (m *MQTT) options() (*mqtt.ClientOptions, error) {
	u, err := url.Parse(m.Broker)
	if err != nil {
		return nil, errors.New("broker: the address is not a URL such as mqtts://example.org:8883")
	}
	scheme := map[string]string{"mqtts": "ssl", "mqtt": "tcp"}[u.Scheme]
	o := mqtt.NewClientOptions().AddBroker(scheme+"://"+u.Host).
		SetClientID(m.ClientID).SetCleanSession(true).SetAutoReconnect(false).SetConnectTimeout(mqttTimeout).
		SetKeepAlive(time.Minute).SetWill(m.Topic+"/online", "false", atLeastOnce, true).SetOrderMatters(false)
	var conf *tls.Config
	if scheme == "ssl" {
		if conf, err = tlsConfig(u.Hostname(), m.CA); err != nil {
			return nil, err
		}
	}
	o.SetCustomOpenConnectionFn(func(*url.URL, mqtt.ClientOptions) (net.Conn, error) { return dialTerse(u.Host, conf) })
	if m.User != "" {
		password, err := m.Password.Value()
		if err != nil {
			return nil, err
		}
		o.SetUsername(m.User).SetPassword(password)
	}
	return o, nil
}

// dialTerse connects to a broker, with TLS where there is a configuration.
func dialTerse(address string, conf *tls.Config) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(context.Background(), mqttTimeout)
	defer cancel()
	raw, err := (&net.Dialer{}).DialContext(ctx, "tcp", address)
	if err != nil {
		return nil, err
	}
	c, err := secured(ctx, raw, conf)
	if err != nil {
		return nil, err
	}
	return newTerse(c), nil
}

// Show takes the present state; Run publishes it.
func (m *MQTT) Show(s Shown) {
	topics := map[string]string{"alarms": text(shownAlarms(s.Alarms, m.Zone))}
	for _, b := range s.Benches {
		topics["benches/"+b.Name] = text(shownBench(&b.Status, m.Zone))
	}
	m.mu.Lock()
	m.shown = topics
	wake := m.awake()
	m.mu.Unlock()
	select {
	case wake <- struct{}{}:
	default:
	}
}

func (m *MQTT) awake() chan struct{} {
	if m.wake == nil {
		m.wake = make(chan struct{}, 1)
	}
	return m.wake
}

// Run keeps the connection and the retained topics until ctx ends, then says
// goodbye.
func (m *MQTT) Run(ctx context.Context) {
	m.mu.Lock()
	wake := m.awake()
	m.mu.Unlock()
	tries := 0
	for {
		again := 15 * time.Second // to notice a connection that has gone
		if err := m.retain(ctx); err != nil {
			tries++
			again = retryIn(tries)
		} else {
			tries = 0
		}
		if !rest(ctx, wake, again) {
			m.goodbye()
			return
		}
	}
}

// retain publishes the topics that the broker does not have.
func (m *MQTT) retain(ctx context.Context) error {
	c, err := m.connected(ctx)
	if err != nil {
		return err
	}
	m.mu.Lock()
	due := map[string]string{}
	for topic, body := range m.shown {
		if m.sent[topic] != body {
			due[topic] = body
		}
	}
	m.mu.Unlock()
	for topic, body := range due {
		if err := m.publish(ctx, c, topic, body, true); err != nil {
			return err
		}
		m.mu.Lock()
		m.sent[topic] = body
		m.mu.Unlock()
	}
	return nil
}

func (m *MQTT) goodbye() {
	m.mu.Lock()
	c := m.client
	m.mu.Unlock()
	if c == nil || !c.IsConnectionOpen() {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	_ = m.publish(ctx, c, "online", "false", true) // the last will says it otherwise
	c.Disconnect(250)
}

type benchShown struct {
	Phase      string   `json:"phase"`
	Latched    []string `json:"latched"`
	LastFlood  string   `json:"last_outcome,omitempty"`
	LastProven string   `json:"last_proven,omitempty"`
	Next       string   `json:"next,omitempty"`
	Paused     bool     `json:"paused"`
}

func shownBench(s *controller.BenchStatus, zone *time.Location) benchShown {
	b := benchShown{Phase: s.Phase.String(), Latched: []string{}, Paused: s.Paused}
	for _, t := range s.Latched {
		b.Latched = append(b.Latched, string(t.Interlock))
	}
	if s.Last.ID != 0 {
		b.LastFlood = string(s.Last.Outcome)
	}
	if !s.LastProven.IsZero() {
		b.LastProven = controller.Stamp(s.LastProven, zone)
	}
	if s.HasNext {
		b.Next = controller.Stamp(s.Next.Due, zone)
	}
	return b
}

type alarmShown struct {
	ID      int64  `json:"id"`
	Bench   string `json:"bench,omitempty"`
	Cause   string `json:"cause"`
	Urgency string `json:"urgency"`
	State   string `json:"state"`
	Since   string `json:"since"`
	Text    string `json:"text"`
}

func shownAlarms(all []alarm.Alarm, zone *time.Location) []alarmShown {
	shown := []alarmShown{}
	for i := range all {
		a := &all[i]
		shown = append(shown, alarmShown{a.ID, a.Bench, a.Cause, string(a.Urgency), string(a.State()), controller.Stamp(a.At, zone), a.Text})
	}
	return shown
}

func text(v any) string {
	data, _ := json.Marshal(v) // plain values
	return string(data)
}
