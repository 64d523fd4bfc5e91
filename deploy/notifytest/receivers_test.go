//go:build notifytest

package notifytest

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const hookKey = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

// post is what a webhook or an event brought.
type post struct {
	at   time.Time
	ID   string `json:"id"`
	Type string `json:"type"`
	Data struct {
		Bench, Cause, Urgency, State, Happened, Done, Do, By, Text string
		Alarm                                                      int64
	} `json:"data"`
}

// hooks receives webhooks and counts heartbeats.
type hooks struct {
	server *http.Server
	addr   string
	mu     sync.Mutex
	posts  []post
	beats  []time.Time
}

func newHooks(t *testing.T, address string) *hooks {
	verifier, err := standardwebhooks.NewWebhook(hookKey)
	require.NoError(t, err)
	h := &hooks{}
	mux := http.NewServeMux()
	mux.HandleFunc("POST /hook", func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		if err := verifier.Verify(body, r.Header); err != nil {
			http.Error(w, err.Error(), http.StatusUnauthorized)
			assert.NoError(t, err)
			return
		}
		var p post
		assert.NoError(t, json.Unmarshal(body, &p))
		p.at, p.ID = time.Now(), r.Header.Get("webhook-id")
		h.mu.Lock()
		h.posts = append(h.posts, p)
		h.mu.Unlock()
	})
	mux.HandleFunc("GET /beat", func(http.ResponseWriter, *http.Request) {
		h.mu.Lock()
		h.beats = append(h.beats, time.Now())
		h.mu.Unlock()
	})
	l, err := net.Listen("tcp", address)
	require.NoError(t, err)
	h.addr, h.server = l.Addr().String(), &http.Server{Handler: mux}
	go func() { _ = h.server.Serve(l) }()
	t.Cleanup(func() { _ = h.server.Close() })
	return h
}

func (h *hooks) received() []post {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]post(nil), h.posts...)
}

func (h *hooks) beaten() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.beats)
}

// broker is Debian's, with TLS and a password.
type broker struct {
	t       *testing.T
	port    int
	conf    string
	cmd     *exec.Cmd
	trusted *x509.CertPool
	mu      sync.Mutex
	events  []post
	topics  map[string]string // retained
}

const topic = "quarry-lane/benches"

func newBroker(t *testing.T, dir string, c certificate) *broker {
	b := &broker{t: t, port: freePort(t), conf: filepath.Join(dir, "mosquitto.conf"), topics: map[string]string{}, trusted: x509.NewCertPool()}
	passwords := filepath.Join(dir, "passwords")
	out, err := exec.Command("mosquitto_passwd", "-b", "-c", passwords, "bench", "battery staple").CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.NoError(t, os.Chmod(passwords, 0o644))
	require.NoError(t, os.WriteFile(b.conf, fmt.Appendf(nil,
		"user root\nlistener %d 127.0.0.1\ncertfile %s\nkeyfile %s\nallow_anonymous false\npassword_file %s\n", b.port, c.cert, c.key, passwords), 0o644))
	pem, err := os.ReadFile(c.cert)
	require.NoError(t, err)
	require.True(t, b.trusted.AppendCertsFromPEM(pem))
	b.start()
	t.Cleanup(b.stop)
	return b
}

func (b *broker) start() {
	b.cmd = exec.Command("mosquitto", "-c", b.conf) // as root it would drop its rights, and could not read the test's files
	require.NoError(b.t, b.cmd.Start())
	o := mqtt.NewClientOptions().AddBroker(fmt.Sprintf("ssl://127.0.0.1:%d", b.port)).SetClientID("watcher").
		SetUsername("bench").SetPassword("battery staple").SetTLSConfig(&tls.Config{RootCAs: b.trusted}).
		SetConnectRetry(true).SetConnectRetryInterval(50 * time.Millisecond).SetCleanSession(false)
	o.SetOnConnectHandler(func(c mqtt.Client) { c.Subscribe(topic+"/#", 1, b.take) })
	token := mqtt.NewClient(o).Connect()
	require.True(b.t, token.WaitTimeout(10*time.Second))
	require.NoError(b.t, token.Error())
}

func (b *broker) stop() {
	_ = b.cmd.Process.Kill()
	_ = b.cmd.Wait()
}

func (b *broker) take(_ mqtt.Client, m mqtt.Message) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if m.Topic() != topic+"/events" {
		b.topics[m.Topic()[len(topic)+1:]] = string(m.Payload())
		return
	}
	var p post
	assert.NoError(b.t, json.Unmarshal(m.Payload(), &p))
	p.at = time.Now()
	b.events = append(b.events, p)
}

func (b *broker) received() []post {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]post(nil), b.events...)
}

func (b *broker) retained(name string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.topics[name]
}

func freePort(t *testing.T) int {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}
