package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"sync/atomic"
	"syscall"

	exporter "github.com/prometheus/exporter-toolkit/web"
	"go.yaml.in/yaml/v3"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/web"
	"benchtide/controller/web/crowd"
)

// listenFlags say where a daemon is heard.
type listenFlags struct {
	Listen    string   `group:"heard" default:"127.0.0.1:8347" placeholder:"ADDR" help:"Where the page, the API and /metrics are served; ${default} unless given."`
	WebConfig string   `group:"heard" placeholder:"FILE" help:"Users and certificates of that address, in the Prometheus exporters' web configuration."`
	TokenFile string   `group:"heard" placeholder:"FILE" help:"The token that whoever asks at that address has to show; without it, or users and a certificate, only this machine is served."`
	Open      []string `group:"heard" enum:"metrics,status" placeholder:"WHAT" help:"What needs no log-in at that address: metrics, status, or both with a comma between."`
	Socket    string   `group:"heard" placeholder:"PATH" help:"The socket that the commands use; in $$RUNTIME_DIRECTORY, else in the state directory, unless given."`
}

// listen opens the address, which one program on a machine can have.
func (f listenFlags) listen() (net.Listener, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", f.Listen)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("listen on %q: the address is in use; stop the program that holds it, perhaps another benchtide, or give another --listen. Nothing was switched on", f.Listen)
	case err != nil:
		return nil, fmt.Errorf("listen on %q: %w; give an address of this machine, such as 127.0.0.1:8347. Nothing was switched on", f.Listen, err)
	}
	return l, nil
}

// check refuses an address that other machines reach unless users have to name
// themselves there and nobody can listen in.
func (f listenFlags) check() error {
	if f.WebConfig != "" {
		if err := exporter.Validate(f.WebConfig); err != nil {
			return cli.Usagef("web configuration %q: %w", f.WebConfig, err)
		}
	}
	if _, _, err := net.SplitHostPort(f.Listen); err != nil {
		return cli.Usagef("listen on %q: %w; give an address and a port, such as 127.0.0.1:8347", f.Listen, err)
	}
	if _, err := cli.ReadToken(f.TokenFile); err != nil {
		return err
	}
	if f.loopback() {
		return nil
	}
	return f.guarded()
}

// guarded refuses an address that other machines reach without a token, or users
// and a certificate.
func (f listenFlags) guarded() error {
	if f.TokenFile != "" {
		return nil
	}
	if f.WebConfig == "" {
		return cli.Usagef("listen on %q: other machines could flood a bench there; give --token-file FILE, or --web-config FILE with users and a certificate, or an address of this machine alone, such as 127.0.0.1:8347", f.Listen)
	}
	a, err := accessBy(f.WebConfig)
	if err == nil && !(a.encrypted && a.users) {
		err = cli.Usagef("web configuration %q: for an address that other machines reach it needs a certificate under tls_server_config, and basic_auth_users or client_auth_type: RequireAndVerifyClientCert; or give --token-file FILE", f.WebConfig)
	}
	return err
}

// loopback reports whether the address is of this machine alone.
func (f listenFlags) loopback() bool {
	host, _, err := net.SplitHostPort(f.Listen)
	ip := net.ParseIP(host)
	return err == nil && (host == "localhost" || ip != nil && ip.IsLoopback())
}

// external is an address as somebody at another machine writes it.
func external(a net.Addr) string {
	tcp, ok := a.(*net.TCPAddr)
	name, err := os.Hostname()
	if !ok || !tcp.IP.IsUnspecified() || err != nil {
		return a.String()
	}
	return net.JoinHostPort(name, strconv.Itoa(tcp.Port))
}

// access is what a web configuration asks of whoever comes.
type access struct {
	encrypted bool // there is a certificate
	users     bool // every user has to name himself
	http2     bool // it asks for what is not spoken here
}

// accessBy reads a web configuration.
func accessBy(path string) (access, error) {
	data, err := cli.ReadFile(path, "the web configuration")
	if err != nil {
		return access{}, err
	}
	var c struct {
		TLS struct {
			Cert       string `yaml:"cert"`
			CertFile   string `yaml:"cert_file"`
			ClientAuth string `yaml:"client_auth_type"`
		} `yaml:"tls_server_config"`
		HTTP struct {
			HTTP2 bool `yaml:"http2"`
		} `yaml:"http_server_config"`
		Users map[string]string `yaml:"basic_auth_users"`
	}
	if err := yaml.Unmarshal(data, &c); err != nil {
		return access{}, cli.Usagef("web configuration %q: %w", path, err)
	}
	return access{
		encrypted: c.TLS.Cert+c.TLS.CertFile != "",
		users:     len(c.Users) > 0 || c.TLS.ClientAuth == "RequireAndVerifyClientCert",
		http2:     c.HTTP.HTTP2,
	}, nil
}

// scheme is how the address is spoken to.
func (f listenFlags) scheme() string {
	if f.WebConfig != "" {
		if a, err := accessBy(f.WebConfig); err == nil && a.encrypted {
			return "https"
		}
	}
	return "http"
}

// socketPath is where the commands' socket goes; empty when nowhere.
func (f listenFlags) socketPath(stateDir string) string {
	switch dir := os.Getenv("RUNTIME_DIRECTORY"); {
	case f.Socket != "":
		return f.Socket
	case dir != "":
		return filepath.Join(dir, cli.SocketName)
	case stateDir != "":
		return filepath.Join(stateDir, cli.SocketName)
	}
	return ""
}

// listenSocket opens the commands' socket, for the user and group that the
// daemon runs as.
func listenSocket(path string) (net.Listener, error) {
	if c, err := net.Dial("unix", path); err == nil {
		_ = c.Close()
		return nil, fmt.Errorf("listen on the socket %q: another benchtide answers there; stop it, or give another --socket", path)
	}
	if info, err := os.Lstat(path); err == nil && info.Mode()&fs.ModeSocket != 0 {
		_ = os.Remove(path) // of a daemon that was killed; Listen tells when it stays
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("listen on the socket %q: %w; give --socket PATH in a directory that exists, the whole path shorter than 108 bytes", path, err)
	}
	if err := os.Chmod(path, 0o660); err != nil {
		return nil, errors.Join(fmt.Errorf("listen on the socket: %w", err), l.Close())
	}
	return l, nil
}

// doors are where a daemon is heard. What they show may change while they are
// open.
type doors struct {
	shown     atomic.Pointer[http.Handler]
	log       *slog.Logger
	servers   []*http.Server
	serve     []func() error // by server
	listeners []net.Listener // by server
}

// newDoors has the address and, where there is one, the socket served once
// they are opened.
func newDoors(address, socket net.Listener, f listenFlags, log *slog.Logger) (*doors, error) {
	d := &doors{log: log}
	door, err := f.door(log)
	if err != nil {
		return nil, err
	}
	none, addresses := false, []string{f.Listen}
	flags := &exporter.FlagConfig{WebConfigFile: &f.WebConfig, WebListenAddresses: &addresses, WebSystemdSocket: &none}
	quiet := slog.New(slog.DiscardHandler) // it would tell of every start
	address = crowd.Listen(address, crowd.Usual)
	server := d.add(d, address, func(s *http.Server) error { return exporter.Serve(address, s, flags, quiet) })
	server.BaseContext = func(net.Listener) context.Context { // by now Serve has put the users' check before it
		server.Handler = web.Harden(door(d, server.Handler))
		return context.Background()
	}
	if socket != nil {
		socket = crowd.Listen(socket, crowd.Usual) // by itself, so that nobody at the address keeps the commands out
		d.add(web.Harden(web.Known(d)), socket, func(s *http.Server) error { return s.Serve(socket) })
	}
	return d, nil
}

// door returns what goes before a handler on the address: plain is that handler
// and named the same behind the check of the web configuration.
func (f listenFlags) door(log *slog.Logger) (func(plain, named http.Handler) http.Handler, error) {
	token, err := cli.ReadToken(f.TokenFile)
	if err != nil {
		return nil, err
	}
	var a access
	if f.WebConfig != "" {
		if a, err = accessBy(f.WebConfig); err != nil {
			return nil, err
		}
	}
	if a.http2 {
		log.Warn(fmt.Sprintf("web configuration %q: http2 is asked for and stays off: with one request at a time a connection, no stranger takes more memory than is set aside for strangers; leave it out", f.WebConfig))
	}
	return func(plain, named http.Handler) http.Handler {
		switch {
		case a.users:
			gate := web.NewGate(plain, token, f.Open, log)
			gate.WithUsers(f.stillNamed(named))
			return gate
		case token != "":
			return web.NewGate(named, token, f.Open, log)
		}
		return web.NamedLocally(named)
	}, nil
}

// stillNamed shuts the address when a web configuration that is read anew no
// longer has users: then nobody would be asked for his name.
func (f listenFlags) stillNamed(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if a, err := accessBy(f.WebConfig); err != nil || !a.users {
			http.Error(w, "the web configuration no longer names users: put them back, or start the program again", http.StatusServiceUnavailable)
			return
		}
		h.ServeHTTP(w, r)
	})
}

func (d *doors) add(h http.Handler, l net.Listener, serve func(*http.Server) error) *http.Server {
	s := web.NewServer(h)
	s.ErrorLog = web.Complaints(d.log)
	d.servers = append(d.servers, s)
	d.listeners = append(d.listeners, l)
	d.serve = append(d.serve, func() error { return serve(s) })
	return s
}

// show changes what is served. It comes before open.
func (d *doors) show(h http.Handler) { d.shown.Store(&h) }

func (d *doors) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	(*d.shown.Load()).ServeHTTP(w, r)
}

// open begins to serve. That a server fails is told and changes nothing for the
// bench.
func (d *doors) open() {
	for _, serve := range d.serve {
		go func() {
			if err := serve(); !errors.Is(err, http.ErrServerClosed) {
				d.log.Error("serve http: " + err.Error())
			}
		}()
	}
}

// close ends every connection, and the listeners that were never opened.
func (d *doors) close() (err error) {
	for i, s := range d.servers {
		err = errors.Join(err, s.Close())
		_ = d.listeners[i].Close() // an error says that the server has closed it
	}
	return err
}
