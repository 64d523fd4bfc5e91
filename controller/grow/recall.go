package grow

import (
	"fmt"
	"time"

	"benchtide/schedule/demand"
)

// enoughDays of a month have to be on record to stand for it (judgement, no
// source).
const enoughDays = 7

// Recall puts days on record in the place of the climate line, in the months of
// which there are enough, and says what came of it.
func (s *Site) Recall(r demand.Records) (said string, err error) {
	months := map[time.Month]*demand.Records{}
	for _, d := range r.Days {
		m := d.Date.Month()
		if months[m] == nil {
			months[m] = &demand.Records{}
		}
		months[m].Days = append(months[m].Days, d)
	}
	s.recorded = map[time.Month]demand.Climate{}
	for m, of := range months {
		if len(of.Days) < enoughDays {
			continue
		}
		if s.recorded[m], err = of.Climate(s.Place); err != nil {
			return "", fmt.Errorf("recall weather: %w", err)
		}
	}
	return fmt.Sprintf("weather on record for %d days stands for %s; for the others it is the climate line", len(r.Days), counted(len(s.recorded), "month")), nil
}

// climate is that of a month on record, else of the climate line.
func (s *Site) climate(m time.Month, yearDay int) (demand.Climate, error) {
	if c, ok := s.recorded[m]; ok {
		return c, nil
	}
	return s.Line(m).Climate(s.Place, yearDay)
}
