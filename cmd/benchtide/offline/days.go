package offline

import (
	"fmt"
	"time"

	"benchtide/controller/config"
	"benchtide/schedule"
)

// Defaults of a rehearsal without a scenario.
const (
	defaultDays         = 30
	defaultSeed  uint64 = 1
	longestDays         = 3653 // ten years
	usualWeather        = "normal"
)

func checkDays(n int) error {
	if n < 1 || n > longestDays {
		return fmt.Errorf("--days %d: give a number from 1 to %d", n, longestDays)
	}
	return nil
}

// today is the present date on site.
func today(site *config.Site) schedule.Date {
	return schedule.CivilIn(time.Now(), site.Zone).Date()
}
