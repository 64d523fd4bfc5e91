package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"net/http"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Whoever takes messages is not trusted with memory: what he answers is read up
// to a bound, and no longer than an attempt may take.
const (
	answerHeader = 16 << 10 // of a webhook or the heartbeat
	answerBody   = 4 << 10  // of the same: nothing in it is used
	mailTalk     = 1 << 20  // of a mail server in one session
	brokerPacket = 64       // of a broker that is asked for nothing: 2 bytes are usual
	troubleText  = 300      // letters of what went wrong, for people
)

// HTTPClient is for webhooks and the heartbeat. It follows no redirect, as the
// specification of webhooks asks, waits no longer than it says, and reads the
// answer's header up to a bound.
func HTTPClient() *http.Client {
	t := http.DefaultTransport.(*http.Transport).Clone()
	t.MaxResponseHeaderBytes = answerHeader
	t.ResponseHeaderTimeout, t.TLSHandshakeTimeout = 15*time.Second, 10*time.Second
	t.MaxIdleConns, t.MaxConnsPerHost = 4, 2
	t.DisableCompression = true // a little on the line could be much in memory
	t.ForceAttemptHTTP2, t.TLSNextProto = false, map[string]func(string, *tls.Conn) http.RoundTripper{}
	return &http.Client{Transport: t, Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error {
		return http.ErrUseLastResponse
	}}
}

// errTalkative is the error of an answer that goes past its bound.
var errTalkative = errors.New("the other side says more than any answer has: look who answers there")

// capped is a connection of which only so many bytes are read.
type capped struct {
	net.Conn
	left int
}

func (c *capped) Read(p []byte) (int, error) {
	if c.left <= 0 {
		return 0, errTalkative
	}
	n, err := c.Conn.Read(p[:min(len(p), c.left)])
	c.left -= n
	return n, err
}

// dialCapped connects to a mail server, with TLS from the first byte where there
// is a configuration.
func dialCapped(conf *tls.Config) func(ctx context.Context, network, address string) (net.Conn, error) {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		raw, err := (&net.Dialer{Timeout: smtpTimeout}).DialContext(ctx, network, address)
		if err != nil {
			return nil, err
		}
		return secured(ctx, &capped{raw, mailTalk}, conf)
	}
}

// secured is a connection with TLS, or as it is without a configuration.
func secured(ctx context.Context, c net.Conn, conf *tls.Config) (net.Conn, error) {
	if conf == nil {
		return c, nil
	}
	encrypted := tls.Client(c, conf)
	if err := encrypted.HandshakeContext(ctx); err != nil {
		_ = c.Close()
		return nil, err
	}
	return encrypted, nil
}

// terse is a connection to a broker, of which packets are read that answer
// something. The client library makes room for a whole packet as soon as it has
// read how long that is to be.
type terse struct {
	net.Conn
	body   int // bytes of a packet still to come
	length int // of the packet whose header is being read
	shift  int // of the next seven bits of it; -7 before the packet
}

func newTerse(c net.Conn) *terse { return &terse{Conn: c, shift: -7} }

func (t *terse) Read(p []byte) (int, error) {
	n, err := t.Conn.Read(p)
	for _, b := range p[:n] {
		if !t.follow(b) {
			return 0, errTalkative
		}
	}
	return n, err
}

// follow takes the next byte of a packet: its kind, its length in groups of seven
// bits, the low ones first (MQTT 3.1.1, section 2.2.3), then so many bytes.
func (t *terse) follow(b byte) bool {
	switch {
	case t.body > 0:
		t.body--
	case t.shift < 0:
		t.shift, t.length = 0, 0
	default:
		t.length |= int(b&0x7f) << t.shift
		if t.shift += 7; b&0x80 == 0 {
			t.body, t.shift = t.length, -7
		}
		return t.length <= brokerPacket && t.shift <= 21
	}
	return true
}

// brief is an error for people, who may find the other side's own words in it:
// one line of a bounded length.
func brief(err error) string {
	var b strings.Builder
	for i, r := range err.Error() {
		if i >= troubleText {
			b.WriteString("…")
			break
		}
		if unicode.IsControl(r) || r == utf8.RuneError || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029' {
			r = ' '
		}
		b.WriteRune(r)
	}
	return b.String()
}
