//go:build prometheus

package prometheus

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

// told is what an alert manager sends to a webhook.
type told struct {
	Receiver string
	Alerts   []struct {
		Labels, Annotations map[string]string
		StartsAt            time.Time
	}
}

// routes starts Debian's alert manager with the routes of this directory, each
// receiver a webhook in place of mail.
func routes(t *testing.T, hook string) string {
	text, err := os.ReadFile("alertmanager.yml")
	require.NoError(t, err)
	var config map[string]any
	require.NoError(t, yaml.Unmarshal(text, &config))
	delete(config, "global")
	for _, r := range config["receivers"].([]any) {
		receiver := r.(map[string]any)
		delete(receiver, "email_configs")
		receiver["webhook_configs"] = []any{map[string]any{"url": hook}}
	}
	text, err = yaml.Marshal(config)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "alertmanager.yml")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	address := freePort(t)
	c := exec.Command("prometheus-alertmanager", "--config.file="+path, "--storage.path="+t.TempDir(), "--web.listen-address="+address, "--cluster.listen-address=")
	require.NoError(t, c.Start())
	t.Cleanup(func() {
		_ = c.Process.Signal(os.Interrupt)
		_ = c.Wait() // an interrupt is its end
	})
	return address
}

func TestABlockedDrainComesThroughTheAlertManagerAsUrgent(t *testing.T) {
	received := make(chan told, 100)
	hook := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var m told
		if assert.NoError(t, json.NewDecoder(r.Body).Decode(&m)) {
			received <- m
		}
	}))
	defer hook.Close()
	d := startDemo(t, "--fault", "drain-blocked:north", "--speed", "60")
	config := site(t, []*demo{d})
	text, err := os.ReadFile(config)
	require.NoError(t, err)
	alerting := fmt.Sprintf("alerting: {alertmanagers: [{static_configs: [{targets: [%q]}]}]}\n", routes(t, hook.URL))
	require.NoError(t, os.WriteFile(config, append(text, alerting...), 0o600))
	s := serve(t, config, t.TempDir())

	var latched time.Time
	require.Eventually(t, func() bool {
		for _, line := range strings.Split(scrape(t, d), "\n") {
			if strings.HasPrefix(line, "benchtide_trip_latched") && strings.HasSuffix(line, " 1") {
				latched = time.Now()
				return true
			}
		}
		return false
	}, 3*time.Minute, 200*time.Millisecond, "the guard never latched")
	late := time.After(2 * time.Minute)
	for {
		select {
		case m := <-received:
			for _, a := range m.Alerts {
				if a.Labels["alertname"] != "TripLatched" {
					continue
				}
				assert.Equal(t, "now", m.Receiver)
				assert.Equal(t, "north", a.Labels["bench"])
				assert.Contains(t, a.Annotations["description"], "Find the cause at the bench, then reset")
				t.Logf("%s: told %.1f s after the guard latched, as %q to %q", a.Labels["interlock"], time.Since(latched).Seconds(), a.Annotations["summary"], m.Receiver)
				return
			}
		case <-late:
			require.Fail(t, "the alert never came", "%s", s.get("/api/v1/alerts"))
		}
	}
}
