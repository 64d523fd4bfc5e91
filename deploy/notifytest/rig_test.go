//go:build notifytest

package notifytest

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

// patience is how long anything may take on a busy machine.
const patience = 60 * time.Second

// site is the built-in example, with word of it going to these receivers.
type site struct {
	t      *testing.T
	dir    string
	file   string
	cert   certificate
	mailAt string
	hookAt string
	broker *broker // nil without one
}

func newSite(t *testing.T, withBroker bool) *site {
	dir := t.TempDir()
	s := &site{
		t: t, dir: dir, file: filepath.Join(dir, "bench.yaml"), cert: newCertificate(t, dir),
		mailAt: fmt.Sprintf("127.0.0.1:%d", freePort(t)), hookAt: fmt.Sprintf("127.0.0.1:%d", freePort(t)),
	}
	if withBroker {
		s.broker = newBroker(t, dir, s.cert)
	}
	s.secret("mail_password", mailPassword)
	s.secret("mqtt_password", "battery staple")
	s.secret("webhook_key", hookKey)
	s.secret("webhook_url", "http://"+s.hookAt+"/hook")
	messages := fmt.Sprintf(`messages:
  mail:
    server: %s
    from: bench@example.org
    to: grower@example.org
    user: %s
    password_file: mail_password
    ca_file: %s
  webhook: {url_file: webhook_url, secret_file: webhook_key}
  second_person: {after: 30 min, mail: neighbour@example.org}
  lamp: beacon
  buzzer: horn
  heartbeat: {url: "http://%s/beat", every: 10 s}
`, s.mailAt, mailUser, s.cert.cert, s.hookAt)
	if withBroker {
		messages += fmt.Sprintf("  mqtt: {broker: \"mqtts://127.0.0.1:%d\", topic: %s, user: bench, password_file: mqtt_password, ca_file: %s}\n", s.broker.port, topic, s.cert.cert)
	}
	text := strings.Replace(string(config.Example), "\nreservoirs:", `  beacon:     {line: GPIO17, energise: high, kind: lamp}
  horn:       {line: GPIO27, energise: high, kind: buzzer}

reservoirs:`, 1)
	text = strings.Replace(text, "\nplans:", "\n"+messages+"\nplans:", 1)
	require.NoError(t, os.WriteFile(s.file, []byte(text), 0o644))
	return s
}

func (s *site) secret(name, text string) {
	require.NoError(s.t, os.WriteFile(filepath.Join(s.dir, name), []byte(text+"\n"), 0o600))
}

func (s *site) mailServer() *mailServer { return newMailServer(s.t, s.mailAt, s.cert) }
func (s *site) hooks() *hooks           { return newHooks(s.t, s.hookAt) }

// daemon is the program under way.
type daemon struct {
	t      *testing.T
	cmd    *exec.Cmd
	socket string
	mu     sync.Mutex
	said   []line
}

type line struct {
	at   time.Time
	text string
}

// start runs the site on its simulated bench, ten bench minutes a second.
func (s *site) start(args ...string) *daemon {
	d := &daemon{t: s.t, socket: filepath.Join(s.dir, "benchtide.sock")}
	d.cmd = exec.Command(os.Getenv("NOTIFYTEST_PROGRAM"), append([]string{
		"demo", "-c", s.file, "--speed", "600", "--listen", "127.0.0.1:0", "--socket", d.socket, "--state", filepath.Join(s.dir, "state"),
	}, args...)...)
	d.cmd.Dir = s.dir
	r, w, err := os.Pipe()
	require.NoError(s.t, err)
	d.cmd.Stdout, d.cmd.Stderr = w, w
	require.NoError(s.t, d.cmd.Start())
	require.NoError(s.t, w.Close())
	go func() {
		for scanner := bufio.NewScanner(r); scanner.Scan(); {
			d.mu.Lock()
			d.said = append(d.said, line{time.Now(), scanner.Text()})
			d.mu.Unlock()
		}
	}()
	s.t.Cleanup(d.kill)
	return d
}

// kill is SIGKILL: the program gets to do nothing more.
func (d *daemon) kill() {
	if d.cmd.ProcessState == nil {
		_ = d.cmd.Process.Kill()
		_ = d.cmd.Wait()
	}
}

// awaited is when the program said what matches.
func (d *daemon) awaited(pattern string) time.Time {
	d.t.Helper()
	re := regexp.MustCompile(pattern)
	var found time.Time
	d.wait("said "+pattern, func() bool {
		d.mu.Lock()
		defer d.mu.Unlock()
		for _, l := range d.said {
			if re.MatchString(l.text) {
				found = l.at
				return true
			}
		}
		return false
	})
	return found
}

// wait polls until something is the case.
func (d *daemon) wait(what string, is func() bool) {
	d.t.Helper()
	for begun := time.Now(); !is(); time.Sleep(5 * time.Millisecond) {
		if time.Since(begun) > patience {
			d.mu.Lock()
			defer d.mu.Unlock()
			var all []string
			for _, l := range d.said {
				all = append(all, l.text)
			}
			require.Failf(d.t, "it never came", "%s; the program said:\n%s", what, strings.Join(all, "\n"))
		}
	}
}

// ask runs a command against the program and returns what it prints.
func (d *daemon) ask(args ...string) string {
	d.t.Helper()
	var out, err bytes.Buffer
	cmd := exec.Command(os.Getenv("NOTIFYTEST_PROGRAM"), append(args, "--socket", d.socket)...)
	cmd.Stdout, cmd.Stderr = &out, &err
	require.NoError(d.t, cmd.Run(), "%v: %s", args, err.String())
	return out.String()
}
