//go:build notifytest

package notifytest

import (
	"bufio"
	"bytes"
	"crypto/tls"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/quotedprintable"
	"net"
	"net/mail"
	"net/textproto"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// letter is a mail as it came in.
type letter struct {
	at      time.Time
	id      string
	to      []string
	subject string
	header  mail.Header
	body    string
}

// mailServer speaks as much SMTP (RFC 5321) as a client needs, with STARTTLS
// (RFC 3207) and AUTH PLAIN or LOGIN (RFC 4954), and insists on both.
type mailServer struct {
	t        *testing.T
	listener net.Listener
	conf     *tls.Config

	mu      sync.Mutex
	letters []letter
	cut     func(line string) bool // closes the socket when a client says this
	mute    bool                   // takes a letter, and closes the socket in place of its yes
	conns   map[net.Conn]bool
}

const mailUser, mailPassword = "bench", "correct horse"

func newMailServer(t *testing.T, address string, c certificate) *mailServer {
	l, err := net.Listen("tcp", address)
	require.NoError(t, err)
	s := &mailServer{t: t, listener: l, conf: &tls.Config{Certificates: []tls.Certificate{c.Certificate}}, conns: map[net.Conn]bool{}}
	go s.accept()
	t.Cleanup(s.close)
	return s
}

func (s *mailServer) close() {
	_ = s.listener.Close()
	s.mu.Lock()
	defer s.mu.Unlock()
	for c := range s.conns {
		_ = c.Close()
	}
}

func (s *mailServer) accept() {
	for {
		c, err := s.listener.Accept()
		if err != nil {
			return
		}
		s.mu.Lock()
		s.conns[c] = true
		s.mu.Unlock()
		go s.serve(c)
	}
}

func (s *mailServer) set(f func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f()
}

// received lists the letters so far.
func (s *mailServer) received() []letter {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]letter(nil), s.letters...)
}

// dialogue is one connection.
type dialogue struct {
	net.Conn
	in     *bufio.Reader
	secure bool
	known  bool
	to     []string
}

func (d *dialogue) say(format string, args ...any) { fmt.Fprintf(d, format+"\r\n", args...) }

func (s *mailServer) serve(c net.Conn) {
	d := &dialogue{Conn: c, in: bufio.NewReader(c)}
	defer func() { _ = d.Close() }()
	d.say("220 localhost ready")
	for {
		line, err := d.in.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimRight(line, "\r\n")
		s.mu.Lock()
		cut := s.cut != nil && s.cut(line)
		s.mu.Unlock()
		if cut || !s.answer(d, line) {
			return
		}
	}
}

// answer answers one line; false ends the connection.
func (s *mailServer) answer(d *dialogue, line string) bool {
	verb, _, _ := strings.Cut(strings.ToUpper(line), " ")
	switch {
	case verb == "EHLO" && !d.secure:
		d.say("250-localhost\r\n250 STARTTLS")
	case verb == "EHLO":
		d.say("250-localhost\r\n250 AUTH PLAIN LOGIN")
	case verb == "STARTTLS":
		d.say("220 go on")
		secure := tls.Server(d.Conn, s.conf)
		d.Conn, d.in, d.secure = secure, bufio.NewReader(secure), true
	case !d.secure:
		d.say("530 say STARTTLS first")
	case verb == "AUTH":
		return s.login(d, line)
	case !d.known:
		d.say("530 log in first")
	case verb == "MAIL", verb == "RSET", verb == "NOOP":
		d.to = nil
		d.say("250 fine")
	case verb == "RCPT":
		d.to = append(d.to, line[strings.IndexByte(line, '<')+1:strings.IndexByte(line, '>')])
		d.say("250 fine")
	case verb == "DATA":
		return s.take(d)
	case verb == "QUIT":
		d.say("221 bye")
		return false
	default:
		d.say("502 unknown")
	}
	return true
}

func (s *mailServer) login(d *dialogue, line string) bool {
	words := strings.Fields(line)
	ask := func(what string) string {
		d.say("334 %s", base64.StdEncoding.EncodeToString([]byte(what)))
		answer, _ := d.in.ReadString('\n')
		text, _ := base64.StdEncoding.DecodeString(strings.TrimSpace(answer))
		return string(text)
	}
	said := ""
	switch {
	case strings.EqualFold(words[1], "LOGIN"):
		said = ask("Username:") + "\x00" + ask("Password:")
	case len(words) > 2:
		text, _ := base64.StdEncoding.DecodeString(words[2])
		said = strings.TrimPrefix(string(text), "\x00")
	}
	d.known = said == mailUser+"\x00"+mailPassword
	if !d.known {
		d.say("535 wrong name or password")
		return true
	}
	d.say("235 welcome")
	return true
}

func (s *mailServer) take(d *dialogue) bool {
	d.say("354 go on")
	data, err := io.ReadAll(textproto.NewReader(d.in).DotReader())
	if err != nil {
		return false
	}
	message, err := mail.ReadMessage(bytes.NewReader(data))
	if err != nil {
		d.say("554 that is no mail")
		return true
	}
	body, _ := io.ReadAll(quotedprintable.NewReader(message.Body))
	subject, _ := new(mime.WordDecoder).DecodeHeader(message.Header.Get("Subject"))
	l := letter{
		at: time.Now(), id: message.Header.Get("Message-ID"), to: d.to, subject: subject,
		header: message.Header, body: strings.ReplaceAll(string(body), "\r\n", "\n"),
	}
	s.mu.Lock()
	s.letters = append(s.letters, l)
	mute := s.mute
	s.mu.Unlock()
	if mute {
		return false
	}
	d.say("250 taken")
	return true
}
