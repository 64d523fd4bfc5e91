// Package address says which addresses messages may go to: such that nobody on
// the way to another machine can read along. Its errors repeat no address,
// since one may hold a key.
package address

import (
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"strconv"
	"strings"
)

// CheckURL refuses an address of a webhook or a heartbeat that is none, or that
// is on another machine without TLS.
func CheckURL(text string) error {
	u, err := url.Parse(text)
	switch {
	case err != nil || u.Hostname() == "" || u.Scheme != "https" && u.Scheme != "http":
		return errors.New("the address is no URL such as https://example.org/hook")
	case u.Scheme == "http" && !loopback(u.Hostname()):
		return fmt.Errorf("an address on another machine, %s, needs https", u.Hostname())
	}
	return nil
}

// CheckBroker refuses the address of an MQTT broker in the same way.
func CheckBroker(text string) error {
	u, err := url.Parse(text)
	switch {
	case err != nil || u.Hostname() == "" || u.Port() == "" || u.Scheme != "mqtts" && u.Scheme != "mqtt" || strings.Trim(u.Path, "/") != "":
		return errors.New("write an address with its port, such as mqtts://example.org:8883")
	case u.User != nil:
		return errors.New("no password belongs into the address: write user and password_file beside it")
	case u.Scheme == "mqtt" && !loopback(u.Hostname()):
		return fmt.Errorf("a broker on another machine, %s, needs TLS: write mqtts in place of mqtt", u.Hostname())
	}
	return nil
}

// CheckServer refuses what is no host with a port.
func CheckServer(text string) error {
	host, port, err := net.SplitHostPort(text)
	n, notNumber := strconv.Atoi(port)
	if err != nil || host == "" || notNumber != nil || n < 1 || n > 65535 {
		return fmt.Errorf("%q: write the host and its port, such as smtp.example.org:465, or :587 for STARTTLS", text)
	}
	return nil
}

// CheckMailbox refuses what is no mail address.
func CheckMailbox(text string) error {
	if _, err := mail.ParseAddress(text); err != nil {
		return fmt.Errorf("%q: write a mail address, such as grower@example.org", text)
	}
	return nil
}

// loopback reports whether a host is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
