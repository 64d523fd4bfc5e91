package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/schedule"
)

// dayAndTime is how a time stands in a sentence.
const dayAndTime = "Mon 2 Jan 15:04"

// until reads the end of an act, and tells the present beside it.
func (a *API) until(r *http.Request, text string) (now, until time.Time, err error) {
	if now, err = a.now(r); err != nil {
		return now, until, err
	}
	if until, err = parseTime(text, now, a.Zone, 1); err != nil {
		err = live.Invalid{Reason: "until: " + err.Error()}
	}
	return now, until, err
}

// parseTime reads a point in time as people write it: RFC 3339, a local
// "2026-03-08 15:00" or "2026-03-08", or a length of time, which counts from
// now forwards when sign is 1 and back when it is -1.
func parseTime(text string, now time.Time, zone *time.Location, sign time.Duration) (time.Time, error) {
	text = strings.TrimSpace(text)
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	if c, err := schedule.ParseCivil(text); err == nil {
		return c.In(zone), nil
	}
	if d, err := schedule.ParseDate(text); err == nil {
		return d.At(0).In(zone), nil
	}
	if d, err := quantity.ParseDuration(text); err == nil {
		return now.Add(sign * d), nil
	}
	return time.Time{}, fmt.Errorf(`%q: write a date as 2026-03-08, a local time as "2026-03-08 15:00", an instant as 2026-03-08T15:00:00+00:00, or a length of time such as 12 h or 30 d`, text)
}
