package notify

import (
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/notify/alarm"
)

// endless is a server that begins to answer and never stops. taken says how much
// of it was taken, by the program or the kernel.
func endless(t *testing.T, begin, rest string) (address string, taken func() int) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	sent := make(chan int, 1)
	go func() {
		n := 0
		defer func() { sent <- n }()
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		_ = c.(*net.TCPConn).SetWriteBuffer(16 << 10)
		_, _ = io.WriteString(c, begin)
		for n < 64<<20 {
			k, err := io.WriteString(c, rest)
			if n += k; err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() { _ = l.Close() })
	return l.Addr().String(), func() int { return <-sent }
}

func TestAnAnswerWithoutEndIsNotReadToItsEnd(t *testing.T) {
	for name, c := range map[string]struct{ begin, rest string }{
		"header":  {"HTTP/1.1 200 OK\r\nX-Long: ", strings.Repeat("x", 4096)},
		"fields":  {"HTTP/1.1 200 OK\r\n", strings.Repeat("X-More: x\r\n", 400)},
		"reason":  {"HTTP/1.1 500 ", strings.Repeat("x", 4096)},
		"body":    {"HTTP/1.1 500 no\r\nContent-Length: 1000000000\r\n\r\n", strings.Repeat("x", 4096)},
		"earlier": {"", "HTTP/1.1 103 Early Hints\r\nLink: </x>\r\n\r\n"},
	} {
		t.Run(name, func(t *testing.T) {
			address, taken := endless(t, c.begin, c.rest)
			hook := &Webhook{Called: "webhook", Plain: "http://" + address, Client: HTTPClient(), Now: time.Now}
			require.Error(t, hook.Send(t.Context(), message()))
			hook.Client.CloseIdleConnections()
			assert.Less(t, taken(), 2<<20)
		})
	}
}

func TestAMailServerIsHeardToABound(t *testing.T) {
	for name, rest := range map[string]string{"lines": "220-hello\r\n", "one line": strings.Repeat("x", 4096)} {
		address, taken := endless(t, "220-", rest)
		m := &Mail{Server: address, From: "bench@example.org", To: []string{"grower@example.org"}}
		assert.ErrorIs(t, m.Send(t.Context(), message()), errTalkative, name)
		assert.Less(t, taken(), 4<<20, name)
	}
}

func TestARedirectIsFollowedNowhere(t *testing.T) {
	elsewhere := false
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		elsewhere = elsewhere || r.URL.Path == "/elsewhere"
		http.Redirect(w, r, "/elsewhere", http.StatusTemporaryRedirect)
	}))
	defer server.Close()
	hook := &Webhook{Called: "webhook", Plain: server.URL, Client: HTTPClient(), Now: time.Now}
	assert.ErrorContains(t, hook.Send(t.Context(), message()), "307")
	heart := &Heartbeat{Method: http.MethodGet, Plain: server.URL, Every: time.Minute, Client: HTTPClient()}
	assert.ErrorContains(t, heart.send(t.Context()), "307")
	assert.False(t, elsewhere)
}

func TestABrokersPacketIsNoLongerThanAnAnswer(t *testing.T) {
	for name, c := range map[string]struct {
		says string
		fine bool
	}{
		"connack, puback, pingresp": {"\x20\x02\x00\x00\x40\x02\x00\x01\xd0\x00\x40\x02\x00\x02", true},
		"one of 64 bytes, then one": {"\x40\x40" + strings.Repeat("\xff", 64) + "\xd0\x00", true},
		"one of 65 bytes":           {"\x40\x41", false},
		"the longest there is":      {"\x20\x02\x00\x00\x30\xff\xff\xff\x7f", false},
		"a length without end":      {"\x40\x80\x80\x80\x80\x80", false},
		"one hidden in another":     {"\x40\x02\x30\xff\x30\xff\x7f", false},
	} {
		for _, at := range []int{1, 3, 512} { // bytes that arrive together
			here, there := net.Pipe()
			go func() {
				for rest := c.says; rest != ""; {
					n := min(at, len(rest))
					_, _ = io.WriteString(there, rest[:n])
					rest = rest[n:]
				}
				_ = there.Close()
			}()
			_, err := io.ReadAll(newTerse(here))
			if c.fine {
				assert.NoError(t, err, "%s, %d at a time", name, at)
			} else {
				assert.ErrorIs(t, err, errTalkative, "%s, %d at a time", name, at)
			}
			_ = here.Close()
		}
	}
}

func TestTroubleIsOneShortLine(t *testing.T) {
	said := brief(errors.New("post: the receiver answers \"no\r\nBcc: all@example.org\x1b[2J\u202e" + strings.Repeat("x", 5000)))
	assert.LessOrEqual(t, len([]rune(said)), troubleText+1)
	assert.NotContains(t, said, "\n")
	assert.NotContains(t, said, "\x1b")
	assert.NotContains(t, said, "\u202e")
}

func TestNothingInAMessageBecomesAHeader(t *testing.T) {
	p := message()
	p.Notice.Subject = "[now] x\r\nBcc: all@example.org\r\n\r\nbody"
	p.Notice.Body = "."
	p.Notice.Kind = alarm.Arose
	m := &Mail{Server: "127.0.0.1:587", From: "bench@example.org", To: []string{"grower@example.org"}}
	message, err := m.message(p)
	require.NoError(t, err)
	var text strings.Builder
	_, err = message.WriteTo(&text)
	require.NoError(t, err)
	head, _, _ := strings.Cut(text.String(), "\r\n\r\n")
	for line := range strings.SplitSeq(head, "\r\n") {
		assert.False(t, strings.HasPrefix(strings.ToLower(line), "bcc"), "%q", line)
	}
	for _, bad := range []string{"bench@example.org\r\nBcc: all@example.org", "bench@example.org>\r\nX: y"} {
		m.From = bad
		_, err := m.message(p)
		assert.Error(t, err, "%q", bad)
	}
}
