package config

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchtide/schedule"
)

// meant is what a value that was refused may be with one usual slip less, and can be
// read then; empty where no slip explains it.
func meant[T any](text string, parse func(string) (T, error)) string {
	text = strings.TrimSpace(text)
	for _, all := range [][]string{guesses(text), shortened(text)} {
		var found []string
		for _, guess := range all {
			if _, err := parse(guess); err == nil && guess != text && !slices.Contains(found, guess) && len(found) < 2 {
				found = append(found, guess)
			}
		}
		if len(found) > 0 {
			return inWords(found, "or")
		}
	}
	return ""
}

// guesses are what people mean who write a value so, the likeliest first. Most cannot
// be read at the key in question.
func guesses(text string) (all []string) {
	if pointed := strings.Replace(text, ",", ".", 1); pointed != text {
		all = append(all, guesses(pointed)...)
	}
	for _, r := range respelt {
		if guess := r.wrong.ReplaceAllString(text, r.right); guess != text {
			all = append(all, guess)
		}
	}
	if first, rest, _ := strings.Cut(halved.ReplaceAllString(strings.ToLower(text), "$1 "), " "); numbers[first] != "" {
		counted := strings.TrimSpace(numbers[first] + " " + rest)
		all = append(append(all, counted), guesses(counted)...)
	}
	all = append(all, recounted(text)...)
	if d, m, year := spokenDate(text); d != "" && year != "" {
		all = append(all, year+"-"+m+"-"+d)
	}
	return all
}

// numbers are words that a value may begin with, in English and German.
var numbers = func() map[string]string {
	all := map[string]string{"half": "0.5", "quarter": "0.25", "a": "1", "an": "1", "ein": "1", "eine": "1", "einen": "1", "zwei": "2", "drei": "3", "vier": "4", "sechs": "6"}
	for n, word := range strings.Fields("zero one two three four five six seven eight nine ten eleven twelve") {
		all[word] = strconv.Itoa(n)
	}
	return all
}()

var halved = regexp.MustCompile(`^(?:an? )?(half|quarter)(?: (?:of )?an?)?\b ?`)

// respelt are other ways of writing a value, and how the file has it.
var respelt = func() (all []struct {
	wrong *regexp.Regexp
	right string
}) {
	for _, r := range [][2]string{
		{`(?i)\s*(?:l|lit\w*) (?:per|an) (?:hour|hr|h)\b.*`, " L/h"}, {`(?i)\s*(?:l|lit\w*) (?:per|a) min\w*`, " L/min"},
		{`(?i)\s*gal\w* (?:per|an) (?:hour|hr|h)\b.*`, " gph"}, {`(?i)\s*gal\w* (?:per|a) min\w*`, " gpm"},
		{`(?i)\s*l(?:iter)?/(?:std|stunde)\.?$`, " L/h"}, {`(?i)\bu\.?s\.? ?gal\w*\.?$`, "gal"},
		{`(?i)(\d) ?tage?n?$`, "$1 d"}, {`(?i)(\d) ?(?:std|stunden?)\.?$`, "$1 h"}, {`(?i)(\d) ?(?:minuten?)\.?$`, "$1 min"}, {`(?i)(\d) ?(?:sek|sekunden?)\.?$`, "$1 s"},
		{`(?i)(\d) ?zoll$`, "$1 in"}, {`(?i)(\d) ?(?:prozent|pct)\.?$`, "$1 %"}, {`(?i)^[ne] ?([\d.]+) ?°?$`, "$1"}, {`(?i)^[sw] ?([\d.]+) ?°?$`, "-$1"},
		{`(?i)\blitt?[er]+s?$`, "L"}, {`(?i)\bltrs?\.?$`, "L"}, {`(?i)\b(?:cc|ccm|cm3|cm³)$`, "mL"}, {`(?i)(\d) ?(?:cc|ccm|cm3|cm³)$`, "$1 mL"},
		{`(?i)(\d) ?oz\.?$`, "$1 fl oz"}, {`(\d) ?m\.?$`, "$1 min"}, {`(?i)(\d) ?(?:ins|inchs)\.?$`, "$1 in"}, {`(?i)(\d) ?(?:mtrs?|mts)\.?$`, "$1 m"},
		{`(?i),? (?:and|plus|&) `, " "}, {`^24:00$`, "00:00"}, {`^0+:0*(\d+)$`, "$1 s"}, {`^0+:0*(\d+)$`, "$1 min"},
		{`^0*(\d+):0*(\d+)$`, "$1 min $2 s"}, {`^0*(\d+):0*(\d+)$`, "$1 h $2 min"},
		{`^(\d{4}-\d\d-\d\d)[ T]\d.*$`, "$1"}, {`(?i)^([\d.]+) ?°? ?[ne]$`, "$1"}, {`(?i)^([\d.]+) ?°? ?[sw]$`, "-$1"},
		{`^(GPIO|PA|PB|PC) (\d+)$`, "$1$2"}, {`([a-z]) +([a-z])`, "${1}_$2"},
	} {
		all = append(all, struct {
			wrong *regexp.Regexp
			right string
		}{regexp.MustCompile(r[0]), r[1]})
	}
	return all
}()

var (
	otherSizes = regexp.MustCompile(`(?i)^([\d.]+) ?(m3/h|m³/h|m3|m³|dl|cl|hl|weeks?|wochen?)$`)
	shareAlone = regexp.MustCompile(`^([\d.]+)(?:/(\d+))?$`)
	arcMinutes = regexp.MustCompile(`^(\d+) ?° ?(\d+) ?['’′]?.*?([NSEWnsew]?)$`)
	sizes      = map[string]struct {
		times float64
		unit  string
	}{"m3/h": {1000, "L/h"}, "m³/h": {1000, "L/h"}, "m3": {1000, "L"}, "m³": {1000, "L"}, "dl": {100, "mL"}, "cl": {10, "mL"}, "hl": {100, "L"},
		"week": {7, "d"}, "weeks": {7, "d"}, "woche": {7, "d"}, "wochen": {7, "d"}}
)

// recounted are values in other units than the file has.
func recounted(text string) (all []string) {
	say := func(v float64, unit string) {
		all = append(all, strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)+unit)
	}
	if m := otherSizes.FindStringSubmatch(text); m != nil {
		n, _ := strconv.ParseFloat(m[1], 64)
		say(n*sizes[strings.ToLower(m[2])].times, " "+sizes[strings.ToLower(m[2])].unit)
	}
	if m := shareAlone.FindStringSubmatch(text); m != nil {
		n, _ := strconv.ParseFloat(m[1], 64)
		if by, err := strconv.ParseFloat(m[2], 64); err == nil && by > 0 {
			n /= by
		}
		if n > 0 && n <= 1 {
			say(100*n, " %")
		}
	}
	if m := arcMinutes.FindStringSubmatch(text); m != nil {
		degrees, _ := strconv.ParseFloat(m[1], 64)
		minutes, _ := strconv.ParseFloat(m[2], 64)
		sign := 1.0
		if strings.ContainsAny(m[3], "SWsw") {
			sign = -1
		}
		say(sign*(degrees+minutes/60), "")
	}
	return all
}

var (
	dayFirst   = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th|\.)?[ -]?(?:of )?(\pL{3,})[., -]*(\d{4})?$`)
	monthFirst = regexp.MustCompile(`^(\pL{3,})\.?[ -](\d{1,2})(?:st|nd|rd|th|\.)?[, -]*(\d{4})?$`)
	monthWords = [][]string{monthNames, strings.Fields("januar februar märz april mai juni juli august september oktober november dezember")}
)

// spokenDate are the digits of a day whose month is a word, in English or German; the
// year is empty where there is none, the day where it is no such date.
func spokenDate(text string) (day, month, year string) {
	text = strings.ToLower(strings.TrimSpace(text))
	word := ""
	if m := dayFirst.FindStringSubmatch(text); m != nil {
		day, word, year = m[1], m[2], m[3]
	} else if m := monthFirst.FindStringSubmatch(text); m != nil {
		word, day, year = m[1], m[2], m[3]
	}
	for _, names := range monthWords {
		for n, name := range names {
			if word != "" && strings.HasPrefix(name, word) {
				return fmt.Sprintf("%02s", day), fmt.Sprintf("%02d", n+1), year
			}
		}
	}
	return "", "", ""
}

var yearless = regexp.MustCompile(`^(\d{1,2})([./])(\d{1,2})\.?$`)

// withoutYear says of a day that names no year how it is written with one.
func withoutYear(text string) string {
	var ways []string
	if d, m, year := spokenDate(text); d != "" && year == "" {
		ways = append(ways, m+"-"+d)
	} else if p := yearless.FindStringSubmatch(strings.TrimSpace(text)); p != nil {
		ways = append(ways, fmt.Sprintf("%02s-%02s", p[3], p[1]))
		if p[2] == "/" {
			ways = append(ways, fmt.Sprintf("%02s-%02s", p[1], p[3]))
		}
	}
	ways = slices.DeleteFunc(ways, func(way string) bool {
		_, err := schedule.ParseDate("2024-" + way)
		return err != nil
	})
	if len(ways) == 0 {
		return ""
	}
	return fmt.Sprintf("%q: the year is missing: write it first, as in YEAR-%s", text, strings.Join(ways, " or YEAR-"))
}

var (
	before = regexp.MustCompile(`^[^\d.+-]+`)
	digits = regexp.MustCompile(`\d`)
)

// shortened is a value without what stands before its number, or without words after
// it.
func shortened(text string) (all []string) {
	if rest := before.ReplaceAllString(text, ""); rest != text && rest != "" {
		all = append(all, rest)
	}
	words := strings.Fields(text)
	for n := len(words); n > 0; n-- {
		if digits.MatchString(strings.Join(words[n:], " ")) {
			break
		}
		all = append(all, strings.TrimRight(strings.Join(words[:n], " "), ".,;:"))
	}
	return all
}

// noSuchDay says of a day that its month does not have how long the month is.
func noSuchDay(text string) string {
	m := slashed.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		return ""
	}
	year, month, day := m[1], m[2], m[3]
	if len(m[3]) == 4 {
		year, day = m[3], m[1]
	}
	y, _ := strconv.Atoi(year)
	n, _ := strconv.Atoi(month)
	d, _ := strconv.Atoi(day)
	if n < 1 || n > 12 || d < 29 || d > 31 {
		return ""
	}
	last := time.Date(y, time.Month(n)+1, 0, 0, 0, 0, 0, time.UTC)
	return fmt.Sprintf("%q: %s has %d days: write a day of the calendar as year-month-day", text, last.Format("January 2006"), last.Day())
}

// listOfTimes is how several times of day are written, where a text is that.
func listOfTimes(text string) string {
	all := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' })
	for i, one := range all {
		t, err := schedule.ParseTimeOfDay(one)
		if err != nil {
			return ""
		}
		all[i] = strconv.Quote(t.String())
	}
	if len(all) < 2 {
		return ""
	}
	return fmt.Sprintf("%q: several times stand in a list: write [%s]", text, strings.Join(all, ", "))
}
