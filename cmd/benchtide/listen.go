package main

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync/atomic"
	"syscall"

	exporter "github.com/prometheus/exporter-toolkit/web"
	"go.yaml.in/yaml/v3"

	"benchtide/controller/web"
)

// listenFlags say where a daemon is heard.
type listenFlags struct {
	Listen    string `default:"127.0.0.1:8347" placeholder:"ADDR" help:"Where the API and /metrics are served; ${default} unless given."`
	WebConfig string `placeholder:"FILE" help:"Users and certificates of that address, in the Prometheus exporters' web configuration; without them only this machine is served."`
	Socket    string `placeholder:"PATH" help:"The socket that the commands use; in $$RUNTIME_DIRECTORY, else in the state directory, unless given."`
}

const socketName = "benchtide.sock"

// listen opens the address. It comes before the board, so that a second
// program on one site ends before it touches a line.
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
			return usagef("web configuration %q: %w", f.WebConfig, err)
		}
	}
	host, _, err := net.SplitHostPort(f.Listen)
	if err != nil {
		return usagef("listen on %q: %w; give an address and a port, such as 127.0.0.1:8347", f.Listen, err)
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	if f.WebConfig == "" {
		return usagef("listen on %q: other machines could flood a bench there; give --web-config FILE with users and a certificate, or an address of this machine alone, such as 127.0.0.1:8347", f.Listen)
	}
	guarded, err := namesItsUsers(f.WebConfig)
	if err == nil && !guarded {
		err = usagef("web configuration %q: for an address that other machines reach it needs a certificate under tls_server_config, and basic_auth_users or client_auth_type: RequireAndVerifyClientCert", f.WebConfig)
	}
	return err
}

// namesItsUsers reports whether a web configuration has a certificate and makes
// every user name himself.
func namesItsUsers(path string) (bool, error) {
	data, err := readFile(path, "the web configuration")
	if err != nil {
		return false, err
	}
	var c struct {
		TLS struct {
			Cert       string `yaml:"cert"`
			CertFile   string `yaml:"cert_file"`
			ClientAuth string `yaml:"client_auth_type"`
		} `yaml:"tls_server_config"`
		Users map[string]string `yaml:"basic_auth_users"`
	}
	if err := yaml.Unmarshal(data, &c); err != nil {
		return false, usagef("web configuration %q: %w", path, err)
	}
	return c.TLS.Cert+c.TLS.CertFile != "" && (len(c.Users) > 0 || c.TLS.ClientAuth == "RequireAndVerifyClientCert"), nil
}

// socketPath is where the commands' socket goes; empty when nowhere.
func (f listenFlags) socketPath(stateDir string) string {
	switch dir := os.Getenv("RUNTIME_DIRECTORY"); {
	case f.Socket != "":
		return f.Socket
	case dir != "":
		return filepath.Join(dir, socketName)
	case stateDir != "":
		return filepath.Join(stateDir, socketName)
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
func newDoors(address, socket net.Listener, f listenFlags, log *slog.Logger) *doors {
	d := &doors{log: log}
	handler := http.Handler(d)
	if f.WebConfig == "" {
		handler = web.NamedLocally(d)
	}
	none, addresses := false, []string{f.Listen}
	flags := &exporter.FlagConfig{WebConfigFile: &f.WebConfig, WebListenAddresses: &addresses, WebSystemdSocket: &none}
	quiet := slog.New(slog.DiscardHandler) // it would tell of every start
	d.add(handler, address, func(s *http.Server) error { return exporter.Serve(address, s, flags, quiet) })
	if socket != nil {
		d.add(d, socket, func(s *http.Server) error { return s.Serve(socket) })
	}
	return d
}

func (d *doors) add(h http.Handler, l net.Listener, serve func(*http.Server) error) {
	s := web.NewServer(h)
	s.ErrorLog = slog.NewLogLogger(d.log.Handler(), slog.LevelWarn)
	d.servers = append(d.servers, s)
	d.listeners = append(d.listeners, l)
	d.serve = append(d.serve, func() error { return serve(s) })
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
