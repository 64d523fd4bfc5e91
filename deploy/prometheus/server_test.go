//go:build prometheus

package prometheus

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// benchtide is the program, built once.
var benchtide string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "benchtide-prometheus-")
	if err != nil {
		panic(err)
	}
	benchtide = filepath.Join(dir, "benchtide")
	if out, err := exec.Command("go", "build", "-o", benchtide, "benchtide/cmd/benchtide").CombinedOutput(); err != nil {
		panic(string(out))
	}
	code := m.Run()
	_ = os.RemoveAll(dir)
	os.Exit(code)
}

func command(t *testing.T, name string, args ...string) string {
	t.Helper()
	var errors bytes.Buffer
	c := exec.Command(name, args...)
	c.Stderr = &errors
	out, err := c.Output()
	require.NoError(t, err, "%s %v: %s%s", name, args, out, errors.String())
	return string(out)
}

// server is a Prometheus of Debian's on loopback.
type server struct {
	t   *testing.T
	url string
	cmd *exec.Cmd
}

// freePort is one that nothing listens on at the moment.
func freePort(t *testing.T) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().String()
}

func serve(t *testing.T, config, data string, flags ...string) *server {
	t.Helper()
	address := freePort(t)
	libraries := t.TempDir()
	var log bytes.Buffer
	s := &server{t: t, url: "http://" + address}
	s.cmd = exec.Command("prometheus", append([]string{
		"--config.file=" + config, "--storage.tsdb.path=" + data, "--web.listen-address=" + address, "--storage.tsdb.retention.time=100y",
		"--web.console.templates=consoles", "--web.console.libraries=" + libraries}, flags...)...)
	s.cmd.Stdout, s.cmd.Stderr = &log, &log
	require.NoError(t, s.cmd.Start())
	t.Cleanup(func() {
		_ = s.cmd.Process.Signal(os.Interrupt)
		_ = s.cmd.Wait() // an interrupt is its end
		if t.Failed() {
			t.Log(log.String())
		}
	})
	require.Eventually(t, func() bool {
		r, err := http.Get(s.url + "/-/ready")
		if err != nil {
			return false
		}
		_ = r.Body.Close()
		return r.StatusCode == http.StatusOK
	}, time.Minute, 100*time.Millisecond, "Prometheus is never ready")
	return s
}

func (s *server) get(path string) []byte {
	s.t.Helper()
	r, err := http.Get(s.url + path)
	require.NoError(s.t, err)
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	require.NoError(s.t, err)
	require.Equal(s.t, http.StatusOK, r.StatusCode, "%s: %s", path, body)
	return body
}

// point is one series of an answer.
type point struct {
	Metric map[string]string
	Value  [2]any
}

// query evaluates an expression as of a time.
func (s *server) query(expr string, at time.Time) []point {
	s.t.Helper()
	var answer struct {
		Status string
		Data   struct{ Result []point }
	}
	require.NoError(s.t, json.Unmarshal(s.get(fmt.Sprintf("/api/v1/query?query=%s&time=%d", url.QueryEscape(expr), at.Unix())), &answer), expr)
	require.Equal(s.t, "success", answer.Status, expr)
	return answer.Data.Result
}
