//go:build prometheus

package prometheus

import (
	"bufio"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	controllers = flag.Int("controllers", 6, "how many controllers run; 50 make a large site")
	lasts       = flag.Duration("lasts", 45*time.Second, "how long they are scraped; the long form takes 5m")
)

// demo is a running controller with its simulated bench.
type demo struct {
	cmd     *exec.Cmd
	address string
}

var metricsAt = regexp.MustCompile(`metrics at http://([^/]+)/metrics`)

func startDemo(t *testing.T, flags ...string) *demo {
	d := &demo{cmd: exec.Command(benchtide, append([]string{"demo", "--listen", "127.0.0.1:0"}, flags...)...)}
	d.cmd.Dir = t.TempDir()
	d.cmd.Env = append(os.Environ(), "TMPDIR="+d.cmd.Dir)
	out, err := d.cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, d.cmd.Start())
	t.Cleanup(d.stop)
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := metricsAt.FindStringSubmatch(lines.Text()); m != nil {
			d.address = m[1]
			go func() {
				for lines.Scan() { // so that its end of the pipe never fills
				}
			}()
			return d
		}
	}
	require.Fail(t, "the demo never said where its metrics are")
	return nil
}

func (d *demo) stop() {
	_ = d.cmd.Process.Signal(os.Interrupt) // it may have ended
	_ = d.cmd.Wait()
}

// site writes a configuration that scrapes the controllers, and the server
// itself for its own figures, with the rules of this directory.
func site(t *testing.T, all []*demo) string {
	rules, err := filepath.Abs("rules")
	require.NoError(t, err)
	var text strings.Builder
	fmt.Fprintf(&text, "global: {scrape_interval: 5s, evaluation_interval: 5s}\nrule_files: [%q]\nscrape_configs:\n  - job_name: benchtide\n    static_configs:\n", rules+"/*.yml")
	for i, d := range all {
		fmt.Fprintf(&text, "      - {targets: [%q], labels: {site: site_%d}}\n", d.address, i)
	}
	config := filepath.Join(t.TempDir(), "prometheus.yml")
	require.NoError(t, os.WriteFile(config, []byte(text.String()), 0o600))
	return config
}

func (s *server) number(expr string) float64 {
	s.t.Helper()
	found := s.query(expr, time.Now())
	require.Len(s.t, found, 1, expr)
	n, err := strconv.ParseFloat(found[0].Value[1].(string), 64)
	require.NoError(s.t, err)
	return n
}

func TestOneServerWatchesManyControllersAndSeesWhichIsGone(t *testing.T) {
	var all []*demo
	for range *controllers {
		all = append(all, startDemo(t, "--speed", "20"))
	}
	s := serve(t, site(t, all), t.TempDir())
	command(t, "promtool", "check", "config", site(t, all))
	time.Sleep(*lasts) // the programs are real, and so is their time

	assert.InDelta(t, float64(*controllers), s.number(`sum(up{job="benchtide"})`), 0)
	checked := exec.Command("promtool", "check", "metrics")
	checked.Stdin = strings.NewReader(scrape(t, all[0]))
	out, err := checked.CombinedOutput()
	assert.NoError(t, err, "%s", out)
	samples := s.number(`max(scrape_samples_scraped)`)
	assert.Less(t, samples, 400.0, "what one controller of one bench shows")
	t.Logf("%d controllers: a scrape takes %.1f ms on average and %.1f ms at most, with %.0f samples", *controllers,
		1e3*s.number(`avg(avg_over_time(scrape_duration_seconds[5m]))`), 1e3*s.number(`max(max_over_time(scrape_duration_seconds[5m]))`), samples)
	t.Logf("%.0f series in all; %s", s.number(`count({__name__!=""})`), ruleTimes(s))
	t.Logf("a controller holds %.0f MB and uses %.2f of a core", s.number(`avg(process_resident_memory_bytes)`)/1e6, s.number(`avg(rate(process_cpu_seconds_total[1m]))`))
	console := string(s.get("/consoles/benchtide.html"))
	assert.Regexp(t, `(?s)<h3>flood_pump</h3>.*<td>last 24 h</td>\s*<td><meter[^>]*></meter></td>`, console)

	gone := all[len(all)-1]
	gone.stop()
	require.Eventually(t, func() bool { return s.number(`sum(up{job="benchtide"})`) == float64(*controllers-1) }, time.Minute, time.Second)
	require.Eventually(t, func() bool {
		pending := s.query(`ALERTS{alertname="ControllerGone"}`, time.Now())
		return len(pending) == 1 && pending[0].Metric["instance"] == gone.address
	}, time.Minute, time.Second, "the alert on the one that is gone")
}

func scrape(t *testing.T, d *demo) string {
	return string((&server{t: t, url: "http://" + d.address}).get("/metrics"))
}

var ruleSeconds = regexp.MustCompile(`prometheus_rule_group_last_duration_seconds\{rule_group="[^"]*;([^"]+)"\} (\S+)`)

// ruleTimes are how long each group of rules took last.
func ruleTimes(s *server) string {
	var all []string
	for _, m := range ruleSeconds.FindAllStringSubmatch(string(s.get("/metrics")), -1) {
		seconds, err := strconv.ParseFloat(m[2], 64)
		require.NoError(s.t, err)
		all = append(all, fmt.Sprintf("%s in %.1f ms", m[1], 1e3*seconds))
	}
	return "rules: " + strings.Join(all, ", ")
}
