// Package strangers burdens a running benchtide as somebody would who has no
// log-in and means no good: thousands of connections of a kind, each left in
// the state in which it costs most. It ends by itself, and what the program
// takes in memory meanwhile is read from the system.
package strangers

import (
	"bufio"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"
)

// Kind is one way to be a burden.
type Kind struct {
	Name string
	TLS  bool // for an address that speaks TLS
	Do   func(net.Conn) error
}

// patience is how long a connection may take over an answer, sayIn over what it
// says when nobody reads that.
const (
	patience = 10 * time.Second
	sayIn    = 200 * time.Millisecond
)

const (
	ask  = "GET /api/v1/status HTTP/1.1\r\nHost: 127.0.0.1\r\n"
	act  = "POST /api/v1/stop HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nX-Benchtide: act\r\n"
	page = "GET /main.js HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
)

// Kinds are all of them.
func Kinds() []Kind {
	plain := []Kind{
		{Name: "that say nothing", Do: says("")},
		{Name: "with half a header", Do: says(ask + "X-Slow: ")},
		{Name: "with the most headers, unfinished", Do: says(ask + names(11<<10))},
		{Name: "with the longest header, unfinished", Do: says(ask + "X-Long: " + strings.Repeat("x", 11<<10))},
		{Name: "with half a body", Do: says(act + "Content-Length: 16000\r\n\r\n" + `{"bench":"` + strings.Repeat("x", 15<<10))},
		{Name: "with a body without end", Do: says(act + "Transfer-Encoding: chunked\r\n\r\n" + strings.Repeat("1;"+strings.Repeat("e", 200)+"\r\nx\r\n", 200))},
		{Name: "that ask much and read nothing", Do: says(strings.Repeat(page, 400))},
		{Name: "that ask for what is made anew and read nothing", Do: says(strings.Repeat("GET /metrics HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", 100))},
		{Name: "that stay after an answer", Do: asks(ask + "\r\n")},
		{Name: "that listen and read nothing", Do: says("GET /api/v1/events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")},
		{Name: "that listen, with the most headers", Do: says("GET /api/v1/events HTTP/1.1\r\nHost: 127.0.0.1\r\n" + names(11<<10) + "\r\n")},
		{Name: "that want another protocol", Do: says(ask + "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n" + strings.Repeat("\x82\x7e\xff\xff", 8<<10))},
		{Name: "that speak HTTP/2 unasked", Do: says("PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + strings.Repeat("\x00\x00\x00\x04\x00\x00\x00\x00\x00", 4<<10))},
	}
	return append(plain,
		Kind{Name: "TLS, that say nothing", TLS: true, Do: says("")},
		Kind{Name: "TLS, with half a greeting", TLS: true, Do: says("\x16\x03\x01\x40\x00\x01\x00\xff\xff\x03\x03" + strings.Repeat("x", 16378) + "\x16\x03\x01\x40\x00" + strings.Repeat("x", 16000))},
		Kind{Name: "TLS, with a greeting and no more", TLS: true, Do: greets},
		Kind{Name: "TLS, with the most headers, unfinished", TLS: true, Do: encrypted(says(ask + names(11<<10)))},
		Kind{Name: "TLS, that stay after an answer", TLS: true, Do: encrypted(asks(ask + "\r\n"))},
		Kind{Name: "TLS, that want HTTP/2", TLS: true, Do: encrypted(says("PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"), "h2")},
	)
}

// names is so many bytes of header lines, as short as they can be and each with
// another name.
func names(size int) string {
	const letters = "abcdefghijklmnopqrstuvwxyz0123456789"
	var b strings.Builder
	for i := 0; b.Len() < size; i++ {
		fmt.Fprintf(&b, "%c%c%c:\n", letters[i%36], letters[i/36%36], letters[i/1296%36])
	}
	return b.String()
}

// says leaves a connection when all is said, or nothing more is taken.
func says(text string) func(net.Conn) error {
	return func(c net.Conn) error {
		_ = c.SetDeadline(time.Now().Add(sayIn))
		_, err := io.WriteString(c, text)
		return err
	}
}

// asks leaves a connection when it was answered.
func asks(text string) func(net.Conn) error {
	return func(c net.Conn) error {
		_ = c.SetDeadline(time.Now().Add(patience))
		if _, err := io.WriteString(c, text); err != nil {
			return err
		}
		answer, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			return err
		}
		_, err = io.Copy(io.Discard, answer.Body)
		return err
	}
}

// encrypted does it behind a handshake, in which it offers these protocols.
func encrypted(do func(net.Conn) error, protocols ...string) func(net.Conn) error {
	sessions := tls.NewLRUClientSessionCache(1) // so that the burden is the server's
	return func(c net.Conn) error {
		_ = c.SetDeadline(time.Now().Add(patience))
		e := tls.Client(c, &tls.Config{InsecureSkipVerify: true, NextProtos: protocols, ClientSessionCache: sessions, ServerName: "benchtide"}) //nolint:gosec // it is our own server
		if err := e.Handshake(); err != nil {
			return err
		}
		return do(e)
	}
}

// greeting is a sound first message of a TLS client.
var greeting = sync.OnceValue(func() []byte {
	here, there := net.Pipe()
	defer there.Close()
	go func() {
		_ = tls.Client(here, &tls.Config{InsecureSkipVerify: true}).Handshake() //nolint:gosec // nobody answers
		_ = here.Close()
	}()
	said := make([]byte, 16<<10)
	n, _ := there.Read(said)
	return said[:n]
})

// greets has the server do its half of a handshake and never answers.
func greets(c net.Conn) error { return says(string(greeting()))(c) }
