package config

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchtide/schedule"
)

// notText tells of a file that is no text of this kind at all, at the first place
// that shows it.
func notText(data string) (at position, said string, found bool) {
	for n, line := range strings.Split(data, "\n") {
		for i, r := range line {
			here := position{n + 1, i + 1}
			switch {
			case r == utf8.RuneError && !strings.HasPrefix(line[i:], "\uFFFD"):
				return here, "a letter that is not written in UTF-8: save the file as UTF-8", true
			case r < ' ' && r != '\t' && r != '\r':
				return here, "this is no text: give the file of the site, which is written in YAML", true
			}
		}
		if said := strayLine(line); said != "" {
			return position{n + 1, 1}, said, true
		}
	}
	return position{}, "", false
}

// strayLine tells of a line that came into the file with something else.
func strayLine(line string) string {
	switch {
	case strings.HasPrefix(line, "<<<<<<<"), strings.HasPrefix(line, ">>>>>>>"), strings.HasPrefix(line, "======="):
		return "a mark of a merge that nobody settled: keep one of the two sides, and leave out the lines with <<<<<<<, ======= and >>>>>>>"
	case strings.HasPrefix(line, "```"):
		return "a line that encloses a text elsewhere: leave the ``` out"
	}
	for _, r := range line {
		if r != ' ' && unicode.IsSpace(r) && r != '\t' && r != '\r' {
			return "a space before the key that is no plain one: indent with the space bar"
		}
		if r != ' ' {
			break
		}
	}
	if key, value, wide := strings.Cut(line, "："); wide && described.knows(strings.TrimSpace(key)) {
		return fmt.Sprintf("a wide colon: write %s: %s", strings.TrimSpace(key), strings.TrimSpace(value))
	}
	return ""
}

var noColon = regexp.MustCompile(`^\s*(?:- )?([a-z_]+)(?: +([^:{\[]*))?$`)

// missingColon finds a line that is a key of the file and has no colon.
func missingColon(data string) (at position, said string, found bool) {
	for n, line := range strings.Split(data, "\n") {
		text, _, _ := strings.Cut(line, " #")
		m := noColon.FindStringSubmatchIndex(strings.TrimRight(text, " \r"))
		if m == nil || !described.knows(line[m[2]:m[3]]) {
			continue
		}
		key, value := line[m[2]:m[3]], ""
		if m[4] >= 0 {
			value = " " + strings.TrimLeft(line[m[4]:m[5]], "= ")
		}
		return position{n + 1, m[2] + 1}, fmt.Sprintf("%q wants a colon after the key: write %s:%s", strings.TrimSpace(text), key, value), true
	}
	return position{}, "", false
}

// plainly is a text with the letters of phones and other scripts that look like those
// of the file in place of them.
func plainly(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '！' && r <= '～':
			return r - '！' + '!'
		case r == '\u200b' || r == '\u200c' || r == '\u200d' || r == '\u2060' || r == '\ufeff':
			return -1
		case r >= '\u2010' && r <= '\u2015' || r == '\u2212':
			return '-'
		case r == '\u3000':
			return ' '
		}
		return r
	}, text)
}

var digitLetter = regexp.MustCompile(`^[OoIl]*[0-9.]*[OoIl]+[0-9.]*\s*[A-Za-z%/]*$|^[OoIl]+[0-9.]+`)

// letterForDigit is a number with letters that look like digits in it, put right;
// empty where none is.
func letterForDigit(text string) string {
	number := strings.TrimRight(text, " abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ%/")
	rest := text[len(number):]
	if !digitLetter.MatchString(number) || !strings.ContainsAny(number, "0123456789") {
		return ""
	}
	return strings.NewReplacer("O", "0", "o", "0", "I", "1", "l", "1").Replace(number) + rest
}

var (
	slashed    = regexp.MustCompile(`^(\d{1,4})[/.\-](\d{1,2})[/.\-](\d{1,4})$`)
	halfDay    = regexp.MustCompile(`(?i)^(\d{1,2})(?:[:.](\d{2}))? *([ap])\.?m\.?$`)
	spokenHour = regexp.MustCompile(`(?i)^(\d{1,2})(?:[:.](\d{2}))? ?(?:uhr|h|o'?clock)$`)
	bareTime   = regexp.MustCompile(`^(\d{1,2})[.h]?(\d{2})$`)
)

// date reads a day, and says of one that is written otherwise which it may be.
func date(text string) (schedule.Date, error) {
	d, err := schedule.ParseDate(text)
	if err == nil {
		return d, nil
	}
	var all []string
	if m := slashed.FindStringSubmatch(strings.TrimSpace(text)); m != nil {
		for _, order := range [][3]string{{m[1], m[2], m[3]}, {m[3], m[2], m[1]}, {m[3], m[1], m[2]}} {
			year := order[0]
			if len(year) == 2 {
				year = "20" + year
			}
			meant := fmt.Sprintf("%s-%02s-%02s", year, order[1], order[2])
			if _, err := schedule.ParseDate(meant); err == nil && !slices.Contains(all, meant) {
				all = append(all, meant)
			}
		}
	}
	if said := withoutYear(text); said != "" {
		return 0, errors.New(said)
	}
	if said := noSuchDay(text); said != "" && len(all) == 0 {
		return 0, errors.New(said)
	}
	if len(all) > 0 {
		return 0, fmt.Errorf("%q: a date is year-month-day, such as 2026-03-02: did you mean %s?", text, inWords(all, "or"))
	}
	return 0, err
}

// timeOfDay reads a time of day, and says of one of the twelve-hour clock or without a
// colon which it is.
func timeOfDay(text string) (schedule.TimeOfDay, error) {
	t, err := schedule.ParseTimeOfDay(text)
	if err == nil {
		return t, nil
	}
	trimmed := strings.TrimSpace(text)
	if said := listOfTimes(trimmed); said != "" {
		return 0, errors.New(said)
	}
	hour, minute := -1, "00"
	if m := halfDay.FindStringSubmatch(trimmed); m != nil {
		if h, _ := strconv.Atoi(m[1]); h >= 1 && h <= 12 {
			hour = h % 12
			if strings.EqualFold(m[3], "p") {
				hour += 12
			}
			if m[2] != "" {
				minute = m[2]
			}
		}
	} else if m := bareTime.FindStringSubmatch(trimmed); m != nil {
		hour, _ = strconv.Atoi(m[1])
		minute = m[2]
	} else if m := spokenHour.FindStringSubmatch(trimmed); m != nil {
		hour, _ = strconv.Atoi(m[1])
		minute = cmp.Or(m[2], minute)
	} else if strings.EqualFold(trimmed, "noon") {
		hour = 12
	}
	meant := fmt.Sprintf("%02d:%s", hour, minute)
	if _, wrong := schedule.ParseTimeOfDay(meant); hour < 0 || wrong != nil {
		return 0, err
	}
	return 0, fmt.Errorf("%q: a time runs from 00:00 to 23:59: did you mean %q?", text, meant)
}
