package quantity

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Day is 24 hours of elapsed time, whatever the civil clock does meanwhile.
const Day = 24 * time.Hour

const rightDuration = "10 s, 3.5 min, 48 h, 2 d or 1 h 30 min"

// ParseDuration reads a length of time such as "10 s", "3.5 min", "48 h" or
// "2 d"; parts of falling size add up, as in "1 h 30 min".
func ParseDuration(text string) (time.Duration, error) {
	var sum, last time.Duration
	rest := strings.TrimSpace(text)
	for first := true; first || rest != ""; first = false {
		n, symbol, after, err := leadingPart(rest)
		if err != nil {
			return 0, fmt.Errorf("%q: %w: a length of time is written like %s", text, err, rightDuration)
		}
		unit := durationUnit(symbol)
		switch {
		case symbol == "":
			return 0, fmt.Errorf("%q: a length of time needs a unit: %s", text, rightDuration)
		case unit == 0:
			return 0, fmt.Errorf("%q: %q is no unit of time: %s", text, symbol, rightDuration)
		case last != 0 && unit >= last:
			return 0, fmt.Errorf("%q: the larger unit comes first: %s", text, rightDuration)
		case n < 0:
			return 0, fmt.Errorf("%q: a length of time cannot be below zero: %s", text, rightDuration)
		}
		part := math.Round(n * float64(unit))
		if float64(sum)+part >= math.MaxInt64 {
			return 0, fmt.Errorf("%q: a length of time as large as that cannot be right: %s", text, rightDuration)
		}
		sum, last, rest = sum+time.Duration(part), unit, after
	}
	return sum, nil
}

// leadingPart takes one number with its unit off the front of text.
func leadingPart(text string) (n float64, symbol, rest string, err error) {
	n, symbol, err = split(text)
	if i := strings.IndexAny(symbol, "+-.0123456789"); i >= 0 {
		symbol, rest = strings.TrimSpace(symbol[:i]), symbol[i:]
	}
	return n, symbol, rest, err
}

func durationUnit(symbol string) time.Duration {
	switch strings.ToLower(symbol) {
	case "s", "sec", "second", "seconds":
		return time.Second
	case "min", "minute", "minutes":
		return time.Minute
	case "h", "hr", "hour", "hours":
		return time.Hour
	case "d", "day", "days":
		return Day
	}
	return 0
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
