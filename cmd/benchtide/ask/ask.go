// Package ask is how a command asks a running daemon: where that is found, by its
// socket or its address, and what becomes of its answers and refusals.
package ask

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/url"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/web"
)

// Daemon is the flags that say which running daemon a command is for.
type Daemon struct {
	Socket    string `group:"daemon" placeholder:"PATH" help:"The daemon's socket; $$BENCHTIDE_SOCKET, else /run/benchtide/benchtide.sock, unless given."`
	Address   string `group:"daemon" placeholder:"ADDR" help:"The daemon's address instead, also as https://…; 127.0.0.1:8347 when there is no socket."`
	TokenFile string `group:"daemon" placeholder:"FILE" env:"BENCHTIDE_TOKEN_FILE" help:"The token that the daemon asks for at its address."`
}

// Question is the flags of the commands that ask a running daemon for an object.
type Question struct {
	Daemon
	JSON bool `help:"Print one JSON object."`
}

// Show asks a daemon for an object and prints it, for people as write does. Errors
// are those of Client.Get, and of who reads what is printed.
func Show[T any](ctx context.Context, s *cli.Session, q Question, path string, query url.Values, write func(io.Writer, *T) error) error {
	var answer T
	if err := q.Client().Get(ctx, path, query, &answer); err != nil {
		return err
	}
	if q.JSON {
		return s.PrintJSON(answer)
	}
	return write(s.Out, &answer)
}

const (
	usualSocket  = "/run/benchtide/" + cli.SocketName
	usualAddress = "127.0.0.1:8347"
)

// Client asks a daemon.
type Client struct {
	at   string // for people
	base string
	http http.Client

	tokenFile string
}

// Client is who asks that daemon: at its socket, or else its address. Nothing is
// opened yet.
func (d Daemon) Client() *Client {
	socket := d.Socket
	if socket == "" && d.Address == "" {
		socket = os.Getenv("BENCHTIDE_SOCKET")
		if _, err := os.Stat(usualSocket); socket == "" && !errors.Is(err, fs.ErrNotExist) {
			socket = usualSocket
		}
	}
	if socket == "" {
		address := d.Address
		if address == "" {
			address = usualAddress
		}
		c := &Client{at: address, base: address, tokenFile: d.TokenFile}
		if !strings.Contains(address, "://") {
			c.base = "http://" + address
		}
		return c
	}
	c := &Client{at: socket, base: "http://benchtide"}
	c.http.Transport = &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", socket)
	}}
	return c
}

// Get asks for one object, below /api/v1/, and reads it into a pointer. An error
// says what to do: no daemon answers, it is a Refusal, or it is a mistake of the
// command line.
func (c *Client) Get(ctx context.Context, path string, query url.Values, into any) error {
	body, err := c.Open(ctx, path, query)
	if err != nil {
		return err
	}
	defer body.Close()
	return c.read(body, into)
}

// Open asks for something long, which the caller closes. Errors are those of Get.
func (c *Client) Open(ctx context.Context, path string, query url.Values) (io.ReadCloser, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, c.base+"/api/v1/"+path+"?"+query.Encode(), nil)
	if err != nil {
		return nil, cli.Usagef("ask the daemon at %q: %w", c.at, err)
	}
	return c.do(r)
}

// Act carries out an act, a POST of a request below /api/v1/, and says what happens
// now. Errors are those of Get; one of an act that the daemon may have carried out
// says so.
func (c *Client) Act(ctx context.Context, path string, request any) (done web.Done, err error) {
	data, err := json.Marshal(request)
	if err != nil {
		return done, err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, c.base+"/api/v1/"+path, bytes.NewReader(data))
	if err != nil {
		return done, cli.Usagef("ask the daemon at %q: %w", c.at, err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("X-Benchtide", "act")
	body, err := c.do(r)
	if errors.Is(err, errNoAnswer) {
		return done, notKnown(path, err)
	}
	if err != nil {
		return done, err
	}
	defer body.Close()
	if err := c.read(body, &done); err != nil {
		return done, notKnown(path, err)
	}
	return done, nil
}

// notKnown is for an act that the daemon may have carried out.
func notKnown(path string, err error) error {
	if path == "stop" || path == "hands-in" {
		return fmt.Errorf("not known whether it stopped: switch the supply off, dry-handed, before you reach in (%w)", err)
	}
	return fmt.Errorf("not known whether it was done: see \"benchtide status\" before you ask again (%w)", err)
}

// errNoAnswer says that a request was sent and nothing came back.
var errNoAnswer = errors.New("no answer")

func (c *Client) do(r *http.Request) (io.ReadCloser, error) {
	token, err := cli.ReadToken(c.tokenFile)
	if err != nil {
		return nil, err
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	var sent atomic.Bool
	r = r.WithContext(httptrace.WithClientTrace(r.Context(), &httptrace.ClientTrace{WroteHeaders: func() { sent.Store(true) }}))
	response, err := c.http.Do(r)
	switch {
	case err != nil && sent.Load():
		return nil, fmt.Errorf("%w from the daemon at %q: %w", errNoAnswer, c.at, errors.Unwrap(err))
	case errors.Is(err, fs.ErrPermission):
		return nil, fmt.Errorf("ask the daemon at %q: permission denied; it is for the user and the group that the daemon runs as: use sudo, or be in that group (usermod -aG benchtide NAME, with the package)", c.at)
	case err != nil:
		return nil, fmt.Errorf("no daemon answers at %q: %w; start one with \"benchtide run\" or \"benchtide demo\", or say where it is with --socket or --address", c.at, errors.Unwrap(err))
	case response.StatusCode == http.StatusOK:
		return response.Body, nil
	}
	defer response.Body.Close()
	return nil, c.refused(response)
}

// refused turns an answer that is none into an error.
func (c *Client) refused(response *http.Response) error {
	var p web.Problem
	if err := json.NewDecoder(io.LimitReader(response.Body, cli.DataLimit)).Decode(&p); err != nil || p.Detail == "" {
		return fmt.Errorf("ask at %q: it answers %q; is that a benchtide?", c.at, response.Status)
	}
	if p.Status == http.StatusBadRequest {
		return cli.Usagef("%s", p.Detail)
	}
	if p.Status == http.StatusUnauthorized {
		return fmt.Errorf("%s; give --token-file FILE", p.Detail)
	}
	if p.Needs == "proof" {
		return fmt.Errorf("%s: --proof", p.Detail)
	}
	return Refusal{p}
}

// Refusal is a daemon's answer no, with its questions, if it has any.
type Refusal struct{ web.Problem }

// Error is what the daemon says to whoever asked.
func (r Refusal) Error() string { return r.Detail }

func (c *Client) read(body io.Reader, into any) error {
	if err := json.NewDecoder(body).Decode(into); err != nil {
		return fmt.Errorf("read the answer of the daemon at %q: %w", c.at, err)
	}
	return nil
}

// Parameters are the pairs of keys and values that have a value.
func Parameters(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			v.Set(pairs[i], pairs[i+1])
		}
	}
	return v
}

// DayAndTime is how a time within about a week is shown.
const DayAndTime = "Mon 2 Jan 15:04"

// Clock prints a time of the API, in RFC 3339, as the site's clock shows it; what
// is no time, as it is.
func Clock(stamp, layout string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return t.Format(layout)
}
