package controller

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"benchtide/controller/texts"
	"benchtide/safety"
)

// Wording is how people read one thing that stops or refuses a flood.
type Wording struct {
	Words string // what it is called
	Do    string // what a person can do, in whole sentences; empty when there is nothing but to wait
	// Mains says that a hand could reach a live wire or water: the supply goes
	// off before anything else.
	Mains bool
}

// MainsOff comes before all else where a hand could reach a live wire or water.
const MainsOff = "Switch off at the mains first, with dry hands."

// wordings has every interlock, and what else refuses a flood.
var wordings = map[safety.Interlock]Wording{
	safety.HighLevel:    {"Water too high", "Clear the standpipe and the drain, and look at the HIGH switch and its wire.", true},
	safety.NotEmpty:     {"Water on the table before a flood", "See that the table has drained and that the FULL and EMPTY switches hang free.", true},
	safety.FillWindow:   {"Filling too slow or too fast", "Look at hose, pump, standpipe and reservoir, and lift the FULL switch by hand.", true},
	safety.DrainWindow:  {"Does not drain", "Clear the drain, and look at the FULL and EMPTY switches.", true},
	safety.MaxRun:       {"Pump ran too long", "Compare the run times with the bench sheet and calibrate again.", false},
	safety.DailyRun:     {"Pump ran too long in 24 h", "Compare the run times with the bench sheet and calibrate again.", false},
	safety.MinRest:      {"Resting between floods", "", false},
	safety.Starts:       {"Too many starts", "Look at what starts the pump so often.", false},
	safety.ReservoirLow: {"Too little water", "Top up the reservoir while the table is empty.", false},
	safety.LeakFound:    {"Water on the floor", "Find where it comes from, and dry the floor and its sensor.", true},
	safety.LostWater:    {"Water is being lost", "Look for water under the table and the reservoir, and at the hose and its clamps. If you took the water out, say so at the reset.", true},
	safety.Chatter:      {"A switch flutters", "Look at the switches, their wires and connectors.", true},
	safety.Implausible:  {"Switches contradict each other", "Look at the switches, their wires and connectors.", true},
	safety.Stale:        {"A switch is not read", "Look at the board and at what else runs on it.", true},
	safety.Stalled:      {"The program was late", "Look at the board and at what else runs on it.", false},
	safety.RestartStorm: {"Restarts too often", "Look at the power supply of the board.", true},
	safety.StateLost:    {"The record of this bench was lost", "Look at the bench, its table and its floor before the reset, and at the card or disk of the controller.", false},
	safety.Cold:         {"Too cold", "Warm the solution; it may freeze in pump and pipe.", false},
	safety.HandsIn:      {"Hands in", "", false},
	Paused:              {"Paused", "", false},
	Sanitising:          {"Being sanitised", "", false},
	Attended:            {"Floods by hand alone", "Commission the bench, or start the daemon with --attended and stay beside it.", false},
}

// Welded is how people read a pump relay that does not open any more.
var Welded = Wording{"A pump relay is welded", "Pull the plug of the pump and have its relay replaced.", true}

// disobeyed is how people read that an output or its board did not do as it was told.
var disobeyed = Wording{"An output did not obey", "Look at the board, at the chip of that output and at its plug and supply.", true}

// slowFill is how people read that the count of a reservoir ran out before FULL: either
// there was too little in it, or the pump brought it too slowly.
var slowFill = Wording{"Too little water", "Top up the reservoir while the table is empty. If it was not low, the fill was too slow: look at pump and hose, and lift the FULL switch by hand.", true}

// asToDisobeyed begins the detail of such a trip.
const asToDisobeyed = "the board did not obey: "

// WordingOf is how people read an interlock. A weld has no name of its own, nor has
// an output that did not obey: they show in the detail.
func WordingOf(i safety.Interlock, detail string) Wording {
	if IsWeld(detail) {
		return Welded
	}
	if strings.HasPrefix(detail, asToDisobeyed) {
		return disobeyed
	}
	if i == safety.ReservoirLow && strings.HasSuffix(detail, safety.BeforeFull) {
		return slowFill
	}
	if w, ok := wordings[i]; ok {
		return w
	}
	return Wording{Words: string(i)}
}

// IsWeld reports whether the detail of a trip or a refusal is that of a welded relay.
func IsWeld(detail string) bool { return weld.MatchString(detail) }

var weld = regexp.MustCompile(`^the pump relay of bench ".*" is welded: |\bthe welded pump of `)

// Called is what people call an interlock: the name itself is for files and
// programs.
func Called(i safety.Interlock) string { return WordingOf(i, "").Words }

// Remedy is all that a person has to do about an interlock, the mains first
// where that is called for; empty when there is nothing but to wait.
func Remedy(i safety.Interlock, detail string) string {
	w := WordingOf(i, detail)
	if !w.Mains {
		return w.Do
	}
	return MainsOff + " " + w.Do
}

// Phrase is an interlock within a sentence, and what is known of this time.
func Phrase(t texts.Titles, i safety.Interlock, detail, bench string) string {
	w := WordingOf(i, detail).Words
	w = strings.ToLower(w[:min(1, len(w))]) + w[min(1, len(w)):]
	if detail == "" {
		return w
	}
	return w + " (" + Plainly(t, strings.TrimPrefix(detail, asToDisobeyed), bench) + ")"
}

// Reads is the reason of a flood as people read it: the names that are for
// programs become words, and bench, which is spoken of, is not named again.
func Reads(t texts.Titles, reason, bench string) string {
	parts := strings.Split(reason, "; ")
	for n, part := range parts {
		lead, rest := "", part
		if after, ok := strings.CutPrefix(part, refusedRetry); ok {
			lead, rest = "the retry was refused, ", after
		}
		name, detail, _ := strings.Cut(rest, ": ")
		if _, known := wordings[safety.Interlock(name)]; known {
			parts[n] = lead + Phrase(t, safety.Interlock(name), detail, bench)
		} else {
			parts[n] = lead + Plainly(t, rest, bench)
		}
	}
	return strings.Join(parts, "; ")
}

// refusedRetry leads the refusal of a retry in the reason of its flood.
const refusedRetry = "the retry was refused: "

// plainer turns what a detail says for the log into what people say, in order.
// Only where it has a piece that no match goes without is an expression tried.
var plainer = []struct {
	has  string
	from *regexp.Regexp
	to   string
}{
	{" was not made by ", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) was not made by a flood that made (FULL|HIGH)\b`), `$1 showed no water in a flood that reached $2`},
	{" was made", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) was made\b`), `$1 showed water`},
	{" was not made", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) was not made\b`), `$1 showed no water`},
	{" was never made", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) was never made\b`), `$1 never showed water`},
	{" was lost", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) was lost\b`), `$1 showed no water`},
	{" stood", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) stood\b`), `$1 showed water`},
	{" has not cleared", regexp.MustCompile(`\b(FULL|HIGH|EMPTY) has not cleared\b`), `$1 still showed water`},
	{`switch "`, regexp.MustCompile(`\bswitch "(full|high|empty|low|level)"`), `the $1 switch`},
	{`switch "leak"`, regexp.MustCompile(`\bswitch "leak"`), `the floor sensor`},
	{"", regexp.MustCompile(`\b(?:the )?(FULL|HIGH|EMPTY)\b( switch)?`), `the $1 switch`},
	{" the ", regexp.MustCompile(`\b(no|a|any|its|each) the (FULL|HIGH|EMPTY) switch\b`), `$1 $2 switch`},
	{` "`, regexp.MustCompile(`\b(bench|reservoir) "([^"]*)"`), `"$1 $2"`},
	{" home", regexp.MustCompile(`\bcome home\b|\bcame home\b`), `drain back`},
	{"to be home", regexp.MustCompile(`\bto be home\b`), `to have drained back`},
	{": ", regexp.MustCompile(`: `), `; `},
}

var (
	inQuotes = regexp.MustCompile(`"([^"]*)"`)
	benchOwn = regexp.MustCompile(` (?:of|on) (?:bench )?"([^"]*)"`)
)

// Plainly puts a detail into the words of people. The bench that is spoken of is
// not named again.
func Plainly(t texts.Titles, detail, bench string) string {
	detail = benchOwn.ReplaceAllStringFunc(detail, func(own string) string {
		if bench != "" && strings.HasSuffix(own, `"`+bench+`"`) {
			return ""
		}
		return own
	})
	for _, p := range plainer {
		if strings.Contains(detail, p.has) {
			detail = p.from.ReplaceAllString(detail, p.to)
		}
	}
	for _, s := range [...]string{"full", "high", "empty"} {
		detail = strings.ReplaceAll(detail, "the "+s+" switch", "the "+strings.ToUpper(s)+" switch")
	}
	return inQuotes.ReplaceAllStringFunc(detail, func(quoted string) string {
		kind, name, _ := strings.Cut(strings.Trim(quoted, `"`), " ")
		switch kind {
		case "bench":
			return t.Bench(name)
		case "reservoir":
			return t.Reservoir(name)
		}
		return texts.Spaced(strings.Trim(quoted, `"`))
	})
}

// Lasting prints a duration as a grower says it: in minutes, in hours, from two
// days on in days.
func Lasting(d time.Duration) string {
	h := int(d.Round(time.Hour).Hours())
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case h < 48:
		return fmt.Sprintf("%d h", h)
	case h%24 == 0:
		return fmt.Sprintf("%d days", h/24)
	}
	return fmt.Sprintf("%d days %d h", h/24, h%24)
}

// Outcomes in words, after the flood they are about: "the flood was refused".
var ended = map[Outcome]string{
	Proven: "is proven", Short: "was cut short", Unproven: "is not proven", Interrupted: "was interrupted",
	Skipped: "was skipped", Refused: "was refused", Missed: "was missed",
}

// Ends says how a flood ended and why, after a sentence's beginning about it.
// Bench, which is spoken of, is not named again.
func Ends(t texts.Titles, o Outcome, reason, bench string) string {
	if reason == "" {
		return ended[o]
	}
	return ended[o] + ". " + sentence(Reads(t, reason, bench))
}
