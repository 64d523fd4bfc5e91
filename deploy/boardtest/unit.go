package boardtest

import (
	"fmt"
	"strings"
	"time"

	"benchtide/deploy/boardtest/console"
)

// parseUnit reads from a unit file what the emulated board's init carries out.
func parseUnit(text string) (console.Service, error) {
	var s console.Service
	for line := range strings.Lines(text) {
		key, value, ok := strings.Cut(strings.TrimSpace(line), "=")
		if !ok || strings.HasPrefix(key, "#") {
			continue
		}
		var err error
		switch key {
		case "ExecStart":
			s.Start = strings.Fields(value)
		case "ExecStopPost":
			s.StopPost = strings.Fields(value)
		case "RestartSec":
			s.RestartMS, err = milliseconds(value)
		case "WatchdogSec":
			s.WatchdogMS, err = milliseconds(value)
		}
		if err != nil {
			return s, fmt.Errorf("read the unit file: %s: %w", key, err)
		}
	}
	if len(s.Start) == 0 {
		return s, fmt.Errorf("read the unit file: it has no ExecStart")
	}
	return s, nil
}

func milliseconds(span string) (int, error) {
	d, err := time.ParseDuration(span)
	return int(d.Milliseconds()), err
}
