package daemon

import (
	"flag"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/ask"
	"benchtide/controller/live"
	"benchtide/controller/web/crowd"
	"benchtide/deploy/measure/strangers"
)

var connections = flag.Int("connections", 500, "how many connections of each kind strangers open")

// mostForStrangers is how much more memory strangers may take.
const mostForStrangers = 64 << 20

func TestStrangersTakeLittleMemoryWhateverTheySend(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("what a process takes is read from Linux")
	}
	dir := t.TempDir()
	cert, key := certificate(t, dir)
	config := filepath.Join(dir, "web.yaml")
	require.NoError(t, os.WriteFile(config, []byte("tls_server_config: {cert_file: "+cert+", key_file: "+key+"}\nhttp_server_config: {http2: true}\n"), 0o600))
	token := tokenFile(t, siteToken, 0o600)
	for name, args := range map[string][]string{
		"with no log-in": nil, "with status left open": {"--token-file", token, "--open", "status,metrics"}, "with TLS": {"--web-config", config, "--token-file", token},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			besiege(t, name == "with TLS", args)
		})
	}
}

// besiege burdens a program with every kind of connection, one after the other,
// and asks it for a look by its socket meanwhile.
func besiege(t *testing.T, encrypted bool, args []string) {
	socket := filepath.Join(t.TempDir(), "s")
	p := start(t, append([]string{"demo", "--listen", "127.0.0.1:0", "--socket", socket}, args...)...)
	at, err := url.Parse(p.until(metricsAt))
	require.NoError(t, err)
	asker := ask.Daemon{Socket: socket}.Client()
	before, _, err := strangers.Memory(p.cmd.Process.Pid)
	require.NoError(t, err)
	most, after := before, before
	for _, k := range strangers.Kinds() {
		if k.TLS != encrypted {
			continue
		}
		b, err := strangers.On(t.Context(), p.cmd.Process.Pid, at.Host, k, *connections, func() {
			var st live.Status
			assert.NoError(t, asker.Get(t.Context(), "status", nil, &st), "the commands are let in meanwhile")
		})
		require.NoError(t, err)
		t.Log(b)
		if measurable {
			assert.LessOrEqual(t, b.Most-before, mostForStrangers, k.Name)
		}
		assert.Greater(t, b.Opened, crowd.Usual.Strangers, "no siege")
		most, after = max(most, b.Most), b.After
	}
	const mib = 1 << 20
	t.Logf("strangers with %d connections of each kind: %.1f MiB before, %.1f at most, %.1f after", *connections, float64(before)/mib, float64(most)/mib, float64(after)/mib)
	assert.Equal(t, 0, p.end(os.Interrupt))
}
