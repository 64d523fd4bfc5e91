package notify

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"benchtide/controller/notify/alarm"
)

// Webhook posts messages as JSON, signed as the Standard Webhooks specification
// 1.0.0 says (github.com/standard-webhooks/standard-webhooks,
// spec/standard-webhooks.md).
type Webhook struct {
	Called string // the channel's name
	Other  bool   // for the second person
	URL    Secret // in a file of its own, or
	Plain  string // where it is no secret
	Key    Secret // whsec_ and base64
	Client *http.Client
	Now    func() time.Time
}

// Name is the channel's name.
func (h *Webhook) Name() string { return h.Called }

// Second reports whether it leads to the second person.
func (h *Webhook) Second() bool { return h.Other }

// hookBody is what is posted.
type hookBody struct {
	Type      string   `json:"type"`
	Timestamp string   `json:"timestamp"`
	Data      hookData `json:"data"`
}

type hookData struct {
	Site     string `json:"site"`
	Alarm    int64  `json:"alarm"`
	Bench    string `json:"bench,omitempty"`
	Cause    string `json:"cause"`
	Urgency  string `json:"urgency"`
	State    string `json:"state"`
	Since    string `json:"since"`
	Happened string `json:"happened"`
	Done     string `json:"done,omitempty"`
	Do       string `json:"do,omitempty"`
	By       string `json:"by,omitempty"` // when the first crop concerned can wait no longer
	Subject  string `json:"subject"`
	Text     string `json:"text"`
}

func bodyOf(p *Message) hookBody {
	a := &p.Notice.Alarm
	b := hookBody{
		Type: "alarm." + string(p.Notice.Kind), Timestamp: p.At.Format(time.RFC3339),
		Data: hookData{
			Site: p.Site, Alarm: a.ID, Bench: a.Bench, Cause: a.Cause, Urgency: string(a.Urgency), State: string(a.State()),
			Since: a.At.Format(time.RFC3339), Happened: a.Happened, Done: a.Done, Do: a.Do,
			Subject: p.Notice.Subject, Text: p.Notice.Body,
		},
	}
	if p.Notice.Kind == alarm.Digest || p.Notice.Kind == alarm.Test {
		b.Type, b.Data.State = string(p.Notice.Kind), ""
	}
	if !a.By.IsZero() {
		b.Data.By = a.By.Format(time.RFC3339)
	}
	if b.Data.Happened == "" {
		b.Data.Happened = a.Text
	}
	return b
}

// Send posts one message. Any 2xx says that it was taken; of other answers only
// those about this very request are a Refused.
func (h *Webhook) Send(ctx context.Context, p *Message) error {
	body, err := json.Marshal(bodyOf(p))
	if err != nil {
		return Refused{err.Error()}
	}
	r, err := h.request(ctx, p.ID, body)
	if err != nil {
		return err
	}
	answer, err := h.Client.Do(r)
	if err != nil {
		return fmt.Errorf("post: %w", withoutURL(err))
	}
	defer answer.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, answerBody)) // so that the connection can be used again
	switch {
	case answer.StatusCode/100 == 2:
		return nil
	case answer.StatusCode == http.StatusBadRequest, answer.StatusCode == http.StatusRequestEntityTooLarge, answer.StatusCode == http.StatusUnprocessableEntity:
		return Refused{"post: the receiver answers " + strconv.Quote(answer.Status)}
	}
	return fmt.Errorf("post: the receiver answers %q", answer.Status)
}

func (h *Webhook) request(ctx context.Context, id string, body []byte) (*http.Request, error) {
	to, err := addressOf(h.URL, h.Plain)
	if err != nil {
		return nil, err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, to, bytes.NewReader(body))
	if err != nil {
		return nil, withoutURL(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("User-Agent", "benchtide")
	stamp := strconv.FormatInt(h.Now().Unix(), 10)
	r.Header.Set("webhook-id", id)
	r.Header.Set("webhook-timestamp", stamp)
	if h.Key.Path == "" {
		return r, nil
	}
	key, err := h.Key.Value()
	if err != nil {
		return nil, err
	}
	signature, err := sign(key, id, stamp, body)
	if err != nil {
		return nil, err
	}
	r.Header.Set("webhook-signature", signature)
	return r, nil
}

// sign is the signature of a message by Standard Webhooks: v1, a comma, and the
// base64 of the HMAC-SHA256 of id, timestamp and body joined by full stops. The
// key is base64, with or without whsec_ before it, of 24 to 64 bytes.
func sign(key, id, timestamp string, body []byte) (string, error) {
	raw, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(key, "whsec_"))
	if err != nil || len(raw) < 24 || len(raw) > 64 {
		return "", errors.New("sign: the key is not whsec_ and the base64 of 24 to 64 bytes; make one with: echo whsec_$(openssl rand -base64 32)")
	}
	m := hmac.New(sha256.New, raw)
	fmt.Fprintf(m, "%s.%s.", id, timestamp)
	_, _ = m.Write(body) // never fails
	return "v1," + base64.StdEncoding.EncodeToString(m.Sum(nil)), nil
}
