package quantity

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Day is 24 hours of elapsed time, whatever the civil clock does meanwhile.
const Day = 24 * time.Hour

// ParseDuration reads a length of time such as "10 s", "3.5 min", "48 h" or
// "2 d"; parts of falling size add up, as in "1 h 30 min".
func ParseDuration(text string) (time.Duration, error) {
	s, err := times.parse(text)
	if err != nil {
		return 0, err
	}
	d := math.Round(float64(s) * float64(time.Second))
	if d >= math.MaxInt64 {
		return 0, times.lacking("%q: %s as large as that cannot be right: ", text, times.noun)
	}
	return time.Duration(d), nil
}

// Duration prints d for a person, to the second: "12 s", "3 min 30 s", "48 h",
// "1 h 30 min". ParseDuration reads it back.
func Duration(d time.Duration) string {
	if d < 0 {
		return "-" + Duration(-d)
	}
	d = d.Round(time.Second)
	var parts []string
	for _, p := range []struct {
		size   time.Duration
		symbol string
	}{{time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}} {
		if n := d / p.size; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, p.symbol))
			d -= n * p.size
		}
	}
	if len(parts) == 0 {
		return "0 s"
	}
	return strings.Join(parts, " ")
}
