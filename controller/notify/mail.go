package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/wneessen/go-mail"

	"benchtide/controller"
	"benchtide/controller/notify/alarm"
)

// Mail sends messages by SMTP, over TLS from the first byte on port 465 and by
// STARTTLS, which it insists on, on any other.
type Mail struct {
	Called   string // the channel's name
	Other    bool   // for the second person
	Server   string // host and port
	From     string
	To       []string
	User     string // empty when the server wants none
	Password Secret
	CA       string // file with the certificate of a server of one's own; empty for the system's
}

// Name is the channel's name.
func (m *Mail) Name() string { return m.Called }

// Second reports whether it leads to the second person.
func (m *Mail) Second() bool { return m.Other }

const smtpTimeout = 30 * time.Second

// Send hands one message to the server.
func (m *Mail) Send(ctx context.Context, p *Message) error {
	message, err := m.message(p)
	if err != nil {
		return Refused{err.Error()}
	}
	client, err := m.client()
	if err != nil {
		return err
	}
	return judge(client.DialAndSendWithContext(ctx, message))
}

// judge tells an answer about this very mail from a server that cannot be used.
func judge(err error) error {
	refused, ok := errors.AsType[*mail.SendError](err)
	if !ok {
		return err
	}
	switch refused.Reason {
	case mail.ErrSMTPRcptTo, mail.ErrSMTPData, mail.ErrSMTPDataClose, mail.ErrWriteContent:
		if !refused.IsTemp() && refused.ErrorCode() >= 500 {
			return Refused{err.Error()}
		}
	}
	return err
}

func (m *Mail) client() (*mail.Client, error) {
	host, port, err := net.SplitHostPort(m.Server)
	if err != nil {
		return nil, fmt.Errorf("mail server: %w", err)
	}
	number, err := strconv.Atoi(port)
	if err != nil {
		return nil, fmt.Errorf("mail server %q: the port is not a number", m.Server)
	}
	conf, err := tlsConfig(host, m.CA)
	if err != nil {
		return nil, err
	}
	options := []mail.Option{mail.WithPort(number), mail.WithTimeout(smtpTimeout), mail.WithTLSConfig(conf), mail.WithoutNoop()}
	if number == 465 {
		options = append(options, mail.WithSSL(), mail.WithDialContextFunc(dialCapped(conf)))
	} else {
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory), mail.WithDialContextFunc(dialCapped(nil)))
	}
	if m.User != "" {
		password, err := m.Password.Value()
		if err != nil {
			return nil, err
		}
		options = append(options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(m.User), mail.WithPassword(password))
	}
	return mail.NewClient(host, options...)
}

// believable is the earliest date that a server does not take for a forgery:
// a board without a clock chip begins in 1970, and knows better by the time that
// it has a network.
var believable = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

func (m *Mail) message(p *Message) (*mail.Msg, error) {
	message := mail.NewMsg()
	if err := message.From(m.From); err != nil {
		return nil, err
	}
	if err := message.To(m.To...); err != nil {
		return nil, err
	}
	domain := "benchtide.invalid"
	if from := message.GetFrom(); len(from) == 1 {
		_, domain, _ = strings.Cut(from[0].Address, "@")
	}
	message.SetMessageIDWithValue(p.ID + "@" + domain)
	message.SetDateWithValue(p.At)
	if p.At.Before(believable) {
		message.SetDate()
	}
	message.Subject(p.Notice.Subject)
	message.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no out-of-office answers
	if p.Notice.Alarm.Urgency == controller.Urgent && p.Notice.Kind != alarm.Gone {
		message.SetImportance(mail.ImportanceUrgent)
	}
	message.SetBodyString(mail.TypeTextPlain, p.Notice.Body)
	return message, nil
}

// tlsConfig trusts the system's authorities, or the one in a file.
func tlsConfig(host, ca string) (*tls.Config, error) {
	c := &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12}
	if ca == "" {
		return c, nil
	}
	data, err := os.ReadFile(ca)
	if err != nil {
		return nil, fmt.Errorf("read the certificate: %w", err)
	}
	c.RootCAs = x509.NewCertPool()
	if !c.RootCAs.AppendCertsFromPEM(data) {
		return nil, fmt.Errorf("read the certificate %q: there is none in PEM form", ca)
	}
	return c, nil
}
