package offline

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/rehearse"
	"benchtide/controller/rehearse/season"
	"benchtide/hw/sim"
)

// Rehearse lives through days on the simulated bench, or through many of them: a
// campaign, or a score.
type Rehearse struct {
	cli.SiteFile
	Scenario string   `short:"s" placeholder:"FILE" help:"A scenario with its own dates, seed, weather and faults."`
	From     cli.Date `placeholder:"DATE" help:"First day; today unless given."`
	Days     *int     `placeholder:"N" help:"How many days; 30 unless given."`
	Seed     *uint64  `placeholder:"N" help:"Of all that is left to chance; 1 unless given."`
	Weather  string   `placeholder:"KIND" help:"mild, normal or hot, or a file of days on record; normal unless given."`
	Nature   string   `placeholder:"KIND" help:"What the simulated bench is left to by chance: kind, wild or second, or a file with a table; kind unless given, and wild for a score."`
	JSON     bool     `help:"Print one JSON object."`
	Metrics  string   `placeholder:"DIR" help:"Write what Prometheus would have read there too, season.om."`
	Report   string   `placeholder:"DIR" help:"Write a page with pictures of it there too, season.html; of a campaign, the months that failed; of a score, score.svg and score.md."`

	Against  string `placeholder:"FILE" help:"Live through the days in a few natures with this file, too, and tell what differs."`
	Campaign int    `placeholder:"N" help:"Live through N random bench-years of faults, people and weather."`
	Score    int    `placeholder:"N" help:"Hold what the program says of N random benches against what then is so, 60 days on each."`
	Workers  int    `placeholder:"N" help:"Years of a campaign, or benches of a score, lived at the same time; 1 unless given."`
}

// Help is what its --help says beside the flags, with an example.
func (Rehearse) Help() string {
	return `The same program as on a real board, on the simulated bench, in virtual time.
Exit code 1 when it broke one of its own invariants.

Examples:

    benchtide rehearse -c bench.yaml --from 2026-03-02 --days 60 --seed 1
    benchtide rehearse -c bench.yaml -s blocked-drain.yaml --json
    benchtide rehearse -c bench.yaml --days 120 --report pictures
    benchtide rehearse -c bench.yaml --days 120 --metrics season
    benchtide rehearse -c bench.yaml --days 60 --seed 8 --nature wild
    benchtide rehearse -c bench.yaml --against other.yaml --days 42 --report pictures
    benchtide rehearse --campaign 300 --seed 7 --workers 2
    benchtide rehearse --campaign 300 --seed 7 --nature wild
    benchtide rehearse --score 100 --seed 7 --report pictures`
}

// Validate refuses flags that do not go together or lie out of range.
func (c Rehearse) Validate() error {
	switch {
	case c.Scenario != "" && (c.From.Given || c.Days != nil || c.Seed != nil || c.Weather != ""):
		return fmt.Errorf("--scenario brings its own dates, seed and weather: leave out --from, --days, --seed and --weather, or the scenario")
	case c.Days != nil:
		if err := checkDays(*c.Days); err != nil {
			return err
		}
	}
	return c.checkMany()
}

// Run prints what happened. It is cli.ErrNo where an invariant was broken.
func (c Rehearse) Run(ctx context.Context, s *cli.Session) error {
	switch {
	case c.Campaign > 0:
		return c.campaign(ctx, s)
	case c.Score > 0:
		return c.score(ctx, s)
	}
	site, _, err := c.Load(s)
	if err != nil {
		return err
	}
	if c.Against != "" {
		return c.against(ctx, s, site)
	}
	scenario, err := c.scenario(s, site)
	if err != nil {
		return err
	}
	if nature, err := c.nature(); err != nil {
		return err
	} else if nature != nil {
		scenario.Nature = nature
	}
	report, err := c.live(ctx, s, site, scenario)
	if err != nil {
		return err
	}
	if err = s.Print(report, c.JSON); err == nil && !report.Fine() {
		return cli.ErrNo
	}
	return err
}

// live lives through the scenario and leaves the files that were asked for.
func (c Rehearse) live(ctx context.Context, s *cli.Session, site *config.Site, scenario rehearse.Scenario) (*rehearse.Report, error) {
	options := rehearse.Options{Progress: progress(s.Err)}
	var recorder season.Recorder
	if c.Report != "" {
		options.Sample = recorder.Sample
	}
	scraped, err := newSeasonMetrics(site)
	if err != nil {
		return nil, err
	}
	if c.Metrics != "" {
		options.Each, options.Publish = scraped.observe, true
	}
	report, err := rehearse.Run(ctx, site, scenario, options)
	if err != nil {
		return nil, err
	}
	if c.Metrics != "" {
		if err := scraped.write(s, c.Metrics); err != nil {
			return nil, err
		}
	}
	if c.Report != "" {
		err = c.draw(s, site, report, &recorder)
	}
	return report, err
}

// draw writes the page with pictures into the directory that was asked for.
func (c Rehearse) draw(s *cli.Session, site *config.Site, report *rehearse.Report, recorder *season.Recorder) error {
	if err := os.MkdirAll(c.Report, 0o755); err != nil {
		return cli.Usagef("make the directory of the report: %w; name one that can be written", err)
	}
	path := filepath.Join(c.Report, "season.html")
	err := cli.WriteFile(path, func(w io.Writer) error { return season.Write(w, site, report, recorder) })
	if err == nil {
		s.Notice("The pictures are in %s.", path)
	}
	return err
}

func (c Rehearse) scenario(s *cli.Session, site *config.Site) (rehearse.Scenario, error) {
	if c.Scenario != "" {
		data, err := cli.ReadFile(c.Scenario, "the scenario")
		if err != nil {
			return rehearse.Scenario{}, err
		}
		scenario, err := rehearse.ParseScenario(c.Scenario, data, site)
		if err != nil {
			return rehearse.Scenario{}, err
		}
		err = c.readRecords(s, site, &scenario)
		return scenario, err
	}
	plain := rehearse.Plain(c.From.Or(today(site)), or(c.Days, defaultDays), or(c.Seed, defaultSeed))
	if c.Weather == "" {
		return plain, nil
	}
	plain.Weather = c.Weather
	if _, file := plain.RecordsFile(); file {
		err := c.readRecords(s, site, &plain)
		return plain, err
	}
	if _, known := rehearse.Weathers[c.Weather]; !known {
		return plain, cli.Usagef("--weather %q: write mild, normal or hot, or a file of records that ends in .csv", c.Weather)
	}
	return plain, nil
}

// nature is the one that was asked for, nil where none was.
func (c Rehearse) nature() (*sim.Nature, error) {
	if c.Nature == "" {
		return nil, nil
	}
	named, err := sim.NatureNamed(c.Nature)
	if err == nil {
		return named, nil
	}
	data, readErr := os.ReadFile(c.Nature)
	if readErr != nil {
		return nil, cli.Usagef("--nature %w, or the path of a file with a table: %w", err, readErr)
	}
	if named, err = sim.ReadNature(c.Nature, bytes.NewReader(data)); err != nil {
		return nil, cli.Usagef("--nature: %w", err)
	}
	return named, nil
}

// readRecords reads the file of days on record that is the scenario's weather,
// found beside the scenario, and tells what in it was not believed.
func (c Rehearse) readRecords(s *cli.Session, site *config.Site, scenario *rehearse.Scenario) error {
	path, file := scenario.RecordsFile()
	if !file {
		return nil
	}
	if !filepath.IsAbs(path) {
		path = filepath.Join(filepath.Dir(c.Scenario), path)
	}
	data, err := cli.ReadFile(path, "the weather")
	if err != nil {
		return err
	}
	_, place, _ := site.Weather()
	records, err := place.ReadRecords(bytes.NewReader(data))
	if err != nil {
		return cli.Usagef("weather %q: %w", path, err)
	}
	for _, n := range records.Notes {
		s.Notice("%s:%d: %s", path, n.Line, n.Text)
	}
	scenario.Records = &records
	return nil
}

// or is the value of a flag, or the default when it was not given.
func or[T any](flag *T, otherwise T) T {
	if flag == nil {
		return otherwise
	}
	return *flag
}

// progress draws how far a rehearsal has come, where a person watches.
func progress(w io.Writer) func(done float64) {
	if !cli.IsTerminal(w) {
		return nil
	}
	const width = 40
	drawn := -1
	return func(done float64) {
		n := min(int(done*width), width)
		if n == drawn {
			return
		}
		drawn = n
		fmt.Fprintf(w, "\r[%s%s]", strings.Repeat("=", n), strings.Repeat(" ", width-n))
		if n == width {
			fmt.Fprintf(w, "\r%s\r", strings.Repeat(" ", width+2))
		}
	}
}
