package reference

import (
	"regexp"
	"strings"

	"benchtide/controller/quantity"
)

// The parts of which patterns are made. They are such that Go and ECMAScript
// read them alike.
const (
	gap      = "[ \u00a0\u202f\u2009]"
	decimal  = `(?:[0-9]+\.?[0-9]*|\.[0-9]+)`
	below    = `0*[1-9][0-9]*` // what a fraction is divided by
	between  = `(?:` + gap + `+|-)`
	vulgar   = `[¼½¾⅛⅜⅝⅞⅓⅔]`
	number   = `(?:` + decimal + `|[0-9]+[/⁄]` + below + `|[0-9]+` + between + `[0-9]+[/⁄]` + below + `|[0-9]*` + gap + `*` + vulgar + `)`
	nonzero  = `[0-9]*[1-9][0-9]*`
	positive = `(?:` + nonzero + `\.?[0-9]*|[0-9]*\.` + nonzero + `|` + nonzero + `[/⁄]` + below +
		`|` + nonzero + between + `[0-9]+[/⁄]` + below + `|[0-9]+` + between + nonzero + `[/⁄]` + below + `|[0-9]*` + gap + `*` + vulgar + `)`
)

// whole is a pattern for all of a text.
func whole(pattern string) string { return `^` + gap + `*(?:` + pattern + `)` + gap + `*$` }

// anyCase is a pattern for a word in letters of any size, with any gap where it
// has a space, and the point of an abbreviation after each part.
func anyCase(word string) string {
	var b strings.Builder
	for i, part := range strings.Fields(word) {
		if i > 0 {
			b.WriteString(gap + `+`)
		}
		for _, r := range part {
			switch up, low := strings.ToUpper(string(r)), strings.ToLower(string(r)); {
			case up != low:
				b.WriteString("[" + low + up + "]")
			case r == '"':
				b.WriteString("[\"\u201d\u2033]")
			case r == '\'':
				b.WriteString("['\u2019\u2032]")
			default:
				b.WriteString(regexp.QuoteMeta(string(r)))
			}
		}
		b.WriteString(`\.?`)
	}
	return b.String()
}

func unit(s quantity.Spelling) string {
	var all []string
	for _, symbol := range s.Symbols {
		all = append(all, anyCase(symbol))
	}
	return `(?:` + strings.Join(all, "|") + `)`
}

// quantities is a pattern for quantities of one kind: one number and its unit,
// or parts of falling size. Such that are more than nothing have a part that is.
func quantities(w quantity.Written, more bool) string {
	sign := `\+?`
	if w.Signed {
		sign = `[+\x{2d}` + "\u2212" + `]?`
	}
	sign = strings.ReplaceAll(sign, `\x{2d}`, `\-`)
	least := number
	if more {
		least = positive
	}
	var all []string
	for _, us := range []bool{false, true} {
		var units []string // the largest first
		for i := len(w.Units) - 1; i >= 0; i-- {
			if w.Units[i].US == us {
				units = append(units, unit(w.Units[i]))
			}
		}
		for i := range units {
			if w.Adds {
				all = append(all, optional(units[:i])+least+gap+`*`+units[i]+gap+`*`+optional(units[i+1:]))
			} else {
				all = append(all, least+gap+`*`+units[i])
			}
		}
	}
	return sign + `(?:` + strings.Join(all, "|") + `)`
}

func optional(units []string) string {
	var b strings.Builder
	for _, u := range units {
		b.WriteString(`(?:` + number + gap + `*` + u + gap + `*)?`)
	}
	return b.String()
}

// spans is a pattern for one quantity, or for two with "to" between them, of
// which the first may leave its unit to the second.
func spans(one string, signed bool) string {
	sign := `\+?`
	if signed {
		sign = `[+\-]?`
	}
	return one + `|` + one + gap + `*` + ` to ` + gap + `*` + one + `|` + sign + decimal + gap + `*` + ` to ` + gap + `*` + one
}

// within is a pattern for numbers with one of these units, as they are spelt.
func within(units ...string) string {
	return `\+?` + decimal + ` +(?:` + strings.Join(units, "|") + `)`
}
