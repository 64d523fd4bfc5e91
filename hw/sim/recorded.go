package sim

import (
	"errors"
	"fmt"
	"time"

	"benchtide/schedule/demand"
)

// Recorded is the weather of days on record. A date that is not on record has
// that of the one nearest to it in the year.
type Recorded struct {
	Records  demand.Records
	Location demand.Location
	First    time.Time // midnight UTC stands for the date on which the world starts
	Offset   time.Duration

	today today
}

func (r *Recorded) check() error {
	if len(r.Records.Days) == 0 {
		return errors.New("weather: there are no days on record")
	}
	for _, d := range r.Records.Days {
		if _, err := r.Location.Reference(d.Day); err != nil {
			return fmt.Errorf("weather of %s: %w", d.Date.Format(time.DateOnly), err)
		}
	}
	return nil
}

// on is the record that stands for day n.
func (r *Recorded) on(n time.Duration) demand.Day {
	date := r.First.AddDate(0, 0, int(n))
	best, least := 0, 367
	for i, rec := range r.Records.Days {
		if rec.Date.Equal(date) {
			return rec.Day
		}
		apart := max(rec.YearDay, date.YearDay()) - min(rec.YearDay, date.YearDay())
		if apart = min(apart, 366-apart); apart < least {
			best, least = i, apart
		}
	}
	return r.Records.Days[best].Day
}

func (r *Recorded) water(n time.Duration) (demand.Weather, error) {
	b, err := r.Location.Reference(r.on(n))
	return demand.Weather{Reference: b.ET, Shine: demand.ShineFor(b.Daylight)}, err
}

// Use follows half a sine over the light hours of each day.
func (r *Recorded) Use(from, to time.Duration) float64 {
	return r.today.use(from+r.Offset, to+r.Offset, r.water)
}

// Solution follows the mean of each day, half as far as the air swings.
func (r *Recorded) Solution(at time.Duration) float64 {
	at += r.Offset
	mean := blend(at, func(n time.Duration) float64 { d := r.on(n); return float64(d.Low+d.High) / 2 })
	d := r.on(at / day)
	return mean + float64(d.High-d.Low)/4*warmest(at)
}
