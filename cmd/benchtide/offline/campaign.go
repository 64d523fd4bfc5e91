package offline

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/rehearse/campaign"
)

const longestCampaign = 1_000_000 // bench-years

// checkMany refuses flags that a campaign or a score has no use for.
func (c Rehearse) checkMany() error {
	switch {
	case c.Against != "" && (c.Scenario != "" || c.Metrics != "" || c.Score > 0 || c.Campaign > 0):
		return fmt.Errorf("--against lives through plain days with two files: leave out --scenario, --metrics, --score and --campaign")
	case c.Score < 0 || c.Score > mostScored:
		return fmt.Errorf("--score %d: give a number of benches from 1 to %d", c.Score, mostScored)
	case c.Score > 0 && c.Campaign > 0:
		return fmt.Errorf("--score and --campaign: they draw different benches: ask for one of the two")
	case c.Score > 0 && (c.Config != "" || c.Scenario != "" || c.From.Given || c.Days != nil || c.Weather != "" || c.Metrics != ""):
		return fmt.Errorf("--score draws its own benches, dates and weather: leave out -c, --scenario, --from, --days, --weather and --metrics")
	case c.Campaign < 0 || c.Campaign > longestCampaign:
		return fmt.Errorf("--campaign %d: give a number of bench-years from 1 to %d", c.Campaign, longestCampaign)
	case c.Workers != 0 && c.Campaign == 0 && c.Score == 0:
		return fmt.Errorf("--workers: only a campaign and a score have several; add --campaign or --score")
	case c.Workers < 0:
		return fmt.Errorf("--workers %d: give how many, from 1", c.Workers)
	case c.Campaign > 0 && (c.Config != "" || c.Scenario != "" || c.From.Given || c.Days != nil || c.Weather != ""):
		return fmt.Errorf("--campaign draws its own benches, dates, weather and faults: leave out -c, --scenario, --from, --days and --weather")
	}
	return nil
}

// campaign lives through random bench-years.
func (c Rehearse) campaign(ctx context.Context, s *cli.Session) error {
	nature, err := c.nature()
	if err != nil {
		return err
	}
	report, err := campaign.Run(ctx, campaign.Options{
		Years: c.Campaign, Seed: or(c.Seed, defaultSeed), Workers: c.Workers, Nature: nature, Progress: progress(s.Err),
	})
	if err != nil {
		return err
	}
	if err = s.Print(report, c.JSON); err == nil && c.Report != "" && len(report.Failures) > 0 {
		err = c.keep(s, report)
	}
	if err == nil && !report.Fine() {
		return cli.ErrNo
	}
	return err
}

// keep writes each failed month and its site into the directory that was asked
// for.
func (c Rehearse) keep(s *cli.Session, report *campaign.Report) error {
	if err := os.MkdirAll(c.Report, 0o755); err != nil {
		return cli.Usagef("make the directory of the report: %w; name one that can be written", err)
	}
	for _, f := range report.Failures {
		if f.Scenario == "" {
			continue
		}
		name := filepath.Join(c.Report, fmt.Sprintf("seed%d-site%d-month%d", report.Seed, f.Site, f.Month))
		for path, text := range map[string]string{name + ".yaml": f.Scenario, name + ".bench.yaml": f.Config} {
			err := cli.WriteFile(path, func(w io.Writer) error {
				_, err := io.WriteString(w, text)
				return err
			})
			if err != nil {
				return err
			}
		}
		s.Notice("A failed month is in %s.yaml: benchtide rehearse -c %s.bench.yaml -s %s.yaml", name, name, name)
	}
	return nil
}
