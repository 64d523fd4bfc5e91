package controller

import (
	"strings"

	"benchtide/safety"
)

// called is what people call what stops or refuses a flood.
var called = map[safety.Interlock]string{
	safety.HighLevel:    "Water too high",
	safety.NotEmpty:     "Water on the table before a flood",
	safety.FillWindow:   "Filling too slow or too fast",
	safety.DrainWindow:  "Does not drain",
	safety.MaxRun:       "Pump ran too long",
	safety.DailyRun:     "Pump ran too long in 24 h",
	safety.MinRest:      "Resting between floods",
	safety.Starts:       "Too many starts",
	safety.ReservoirLow: "Too little water",
	safety.LeakFound:    "Water on the floor",
	safety.LostWater:    "Water is being lost",
	safety.Chatter:      "A switch flutters",
	safety.Implausible:  "Switches contradict each other",
	safety.Stale:        "A switch is not read",
	safety.Stalled:      "The program was late",
	safety.RestartStorm: "Restarts too often",
	safety.StateLost:    "The record of this bench was lost",
	safety.Cold:         "Too cold",
	safety.HandsIn:      "Hands in",
	Paused:              "Paused",
	Sanitising:          "Being sanitised",
	Attended:            "Floods by hand alone",
}

// Called is what people call an interlock: the name itself is for files and
// programs.
func Called(i safety.Interlock) string {
	if words, ok := called[i]; ok {
		return words
	}
	return string(i)
}

// inSentence is Called within a sentence.
func inSentence(i safety.Interlock) string {
	words := Called(i)
	return strings.ToLower(words[:min(1, len(words))]) + words[min(1, len(words)):]
}

// saying puts the name that a reason begins with into words.
func saying(reason string) string {
	name, detail, ok := strings.Cut(reason, ": ")
	if _, known := called[safety.Interlock(name)]; !known {
		return reason
	}
	if !ok {
		return inSentence(safety.Interlock(name))
	}
	return inSentence(safety.Interlock(name)) + ": " + detail
}
