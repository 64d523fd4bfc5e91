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
	all = append(all, recounted(text)...)
	return append(all, spokenDate(text)...)
}

// respelt are other ways of writing a value, and how the file has it.
var respelt = func() (all []struct {
	wrong *regexp.Regexp
	right string
}) {
	for _, r := range [][2]string{
		{`(?i)\s*(?:l|lit\w*) (?:per|an) (?:hour|hr|h)\b.*`, " L/h"}, {`(?i)\s*(?:l|lit\w*) (?:per|a) min\w*`, " L/min"},
		{`(?i)\s*gal\w* (?:per|an) (?:hour|hr|h)\b.*`, " gph"}, {`(?i)\s*gal\w* (?:per|a) min\w*`, " gpm"},
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
	otherSizes = regexp.MustCompile(`(?i)^([\d.]+) ?(m3/h|m³/h|m3|m³|dl|cl|hl)$`)
	shareAlone = regexp.MustCompile(`^([\d.]+)(?:/(\d+))?$`)
	arcMinutes = regexp.MustCompile(`^(\d+) ?° ?(\d+) ?['’′]?.*?([NSEWnsew]?)$`)
	sizes      = map[string]struct {
		times float64
		unit  string
	}{"m3/h": {1000, "L/h"}, "m³/h": {1000, "L/h"}, "m3": {1000, "L"}, "m³": {1000, "L"}, "dl": {100, "mL"}, "cl": {10, "mL"}, "hl": {100, "L"}}
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

// spokenDate is a day whose month is a word.
func spokenDate(text string) (all []string) {
	for _, layout := range []string{"2 January 2006", "2 Jan 2006", "January 2 2006", "Jan 2 2006", "2. January 2006"} {
		if t, err := time.Parse(layout, strings.ReplaceAll(text, ",", "")); err == nil {
			all = append(all, t.Format(time.DateOnly))
		}
	}
	return all
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
