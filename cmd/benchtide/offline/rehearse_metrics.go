package offline

import (
	"io"
	"os"
	"path/filepath"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/metrics"
	"benchtide/controller/rehearse"
)

// scrapeEvery is how far apart the scrapes of a rehearsed season are. Four an
// hour keep a season's file to some 100 MB.
const scrapeEvery = 15 * time.Minute

// seasonMetrics has a rehearsal leave behind what Prometheus would have read.
type seasonMetrics struct {
	season *metrics.Season
	failed error
}

func newSeasonMetrics(site *config.Site) (*seasonMetrics, error) {
	season, err := metrics.NewSeason(metrics.Site{Limits: site.Limits(), Batches: site.BatchNames(), Build: cli.Build()}, scrapeEvery)
	return &seasonMetrics{season: season}, err
}

// observe takes one turn of the rehearsal.
func (m *seasonMetrics) observe(at rehearse.Observation) {
	if m.failed == nil {
		m.failed = m.season.Turn(at.True, at.Turn)
	}
}

// write leaves the file in a directory, and says what to do with it.
func (m *seasonMetrics) write(s *cli.Session, dir string) error {
	if m.failed != nil {
		return m.failed
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return cli.Usagef("make the directory of the metrics: %w; name one that can be written", err)
	}
	path := filepath.Join(dir, "season.om")
	err := cli.WriteFile(path, func(w io.Writer) error { return m.season.WriteOpenMetrics(w) })
	if err == nil {
		s.Notice("The metrics are in %s. To look at them: promtool tsdb create-blocks-from --max-block-duration=744h openmetrics %s %s, then "+
			"prometheus --config.file=/dev/null --storage.tsdb.path=%s --storage.tsdb.retention.time=100y --query.lookback-delta=20m",
			path, path, filepath.Join(dir, "data"), filepath.Join(dir, "data"))
	}
	return err
}
