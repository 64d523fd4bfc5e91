package config

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// slipOfYAML looks for what most often keeps a file from being YAML: a tab, a
// bracket or a quote that is not closed, a key without a space after its colon,
// each at its place. False where none of them explains it.
func slipOfYAML(data string) (at position, said string, found bool) {
	if at, said, found = notText(data); found {
		return at, said, found
	}
	for n, line := range strings.Split(data, "\n") {
		indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
		if i := strings.IndexByte(indent, '\t'); i >= 0 && strings.TrimSpace(line) != "" {
			return position{n + 1, i + 1}, "a tab before the key: indent with spaces", true
		}
	}
	if at, said, found = openBrackets(data); found {
		return at, said, found
	}
	for n, line := range strings.Split(data, "\n") {
		if m := tightColon.FindStringSubmatchIndex(line); m != nil && described.knows(line[m[2]:m[3]]) {
			return position{n + 1, m[2] + 1}, spaced(line[m[2]:m[3]], strings.TrimRight(line[m[4]:m[5]], " ,}")), true
		}
	}
	if at, said, found = missingComma(data); found {
		return at, said, found
	}
	if at, said, found = missingColon(data); found {
		return at, said, found
	}
	return wrongIndent(data)
}

var (
	noComma   = regexp.MustCompile(`[{,]\s*[a-z_]+: [^,{}\[\]"]*?[^,{}\[\]"\s:]\s+([a-z_]+): `)
	twoCommas = regexp.MustCompile(`,\s*,`)
)

// missingComma finds two keys in braces with no comma between them, or with two.
func missingComma(data string) (at position, said string, found bool) {
	for n, line := range strings.Split(data, "\n") {
		text, _, _ := strings.Cut(line, " #")
		if m := noComma.FindStringSubmatchIndex(text); m != nil && described.knows(text[m[2]:m[3]]) {
			return position{n + 1, m[2] + 1}, fmt.Sprintf("a comma is missing before %s", text[m[2]:m[3]]), true
		}
		if m := twoCommas.FindStringIndex(text); m != nil && strings.Contains(text, "{") {
			return position{n + 1, m[1]}, "two commas stand side by side: leave one out", true
		}
	}
	return position{}, "", false
}

var (
	ownKey  = regexp.MustCompile(`^ *([A-Za-z_][\w-]*) *$`)
	opensUp = regexp.MustCompile(`:\s*$|^\s*-(\s|$)|[{\[,]\s*$`)
)

// wrongIndent finds the line that stands neither below the one before it nor beside an
// earlier one, and the name without its colon that stands above what is its own.
func wrongIndent(data string) (at position, said string, found bool) {
	levels, before := []int{0}, ":"
	for n, line := range strings.Split(data, "\n") {
		text, _, _ := strings.Cut(line, " #")
		text = strings.TrimRight(text, " \r")
		in := len(text) - len(strings.TrimLeft(text, " "))
		if text == "" || text[in] == '#' {
			continue
		}
		deeper := in > levels[len(levels)-1]
		switch {
		case deeper && ownKey.MatchString(before):
			name := strings.TrimSpace(before)
			return position{n, strings.Index(before, name) + 1}, fmt.Sprintf("%q wants a colon after the name: write %s:", name, name), true
		case deeper && !opensUp.MatchString(before):
			return position{n + 1, in + 1}, fmt.Sprintf("this line stands further in than the one above it, which has its value already: give both the same %d spaces, or see which of the two is wrong", levels[len(levels)-1]), true
		case deeper:
			levels = append(levels, in)
		}
		for in < levels[len(levels)-1] {
			levels = levels[:len(levels)-1]
		}
		if in != levels[len(levels)-1] {
			return position{n + 1, in + 1}, fmt.Sprintf("this line stands %s in, and no line above it does: give it as many spaces as the lines that it belongs to", counted(in, "space")), true
		}
		before = text
	}
	return position{}, "", false
}

// tightColon is a key whose value follows its colon at once.
var tightColon = regexp.MustCompile(`^\s*(?:- )?([a-z_]+):([^\s/:][^#]*)`)

func spaced(key, value string) string {
	return fmt.Sprintf("%q wants a space after the colon: write %s: %s", key+":"+value, key, value)
}

// knows reports whether any section has a key of this name.
func (t tree) knows(name string) bool { return len(t.elsewhere(name)) > 0 }

// bracket is one that is open, or a quote.
type bracket struct {
	position
	r rune
}

var closes = map[rune]rune{'{': '}', '[': ']'}

// openBrackets finds the bracket or quote that is not closed, the one that
// closes nothing, and the pair that does not match. A quote ends with its line.
func openBrackets(data string) (at position, said string, found bool) {
	var open []bracket
	for n, line := range strings.Split(data, "\n") {
		var quote *bracket
		before := ' '
		for i, r := range line {
			if quote == nil && r == '#' && unicode.IsSpace(before) {
				break // a comment
			}
			here := position{n + 1, i + 1}
			switch {
			case quote != nil:
				if r == quote.r {
					quote = nil
				}
			case (r == '"' || r == '\'') && strings.ContainsRune(" {[,:", before):
				quote = &bracket{here, r}
			case r == '{' || r == '[':
				open = append(open, bracket{here, r})
			case (r == '}' || r == ']') && len(open) == 0:
				return here, fmt.Sprintf("%c closes nothing: leave it out, or look for the one that opens before it", r), true
			case r == '}' || r == ']':
				last := open[len(open)-1]
				if closes[last.r] != r {
					return here, fmt.Sprintf("%c stands where the %c of line %d, column %d, wants %c", r, last.r, last.line, last.column, closes[last.r]), true
				}
				open = open[:len(open)-1]
			}
			before = r
		}
		if quote != nil {
			return quote.position, fmt.Sprintf("the quote %c is not closed in its line", quote.r), true
		}
	}
	if len(open) == 0 {
		return position{}, "", false
	}
	last := open[len(open)-1]
	return last.position, fmt.Sprintf("%c is not closed: write %c where its section ends", last.r, closes[last.r]), true
}

// slipOfKey explains a key that nobody knows by a slip: a value without a space
// after its colon, or the rest of a number with a decimal comma. It returns the
// key of which the value was meant.
func (f fields) slipOfKey(e entry, before *entry) (key string, found bool) {
	if e.node.Kind != yaml.ScalarNode || e.node.Tag != "!!null" {
		return "", false
	}
	if name, value, ok := strings.Cut(e.key, " "); ok && f.section.child(name) != nil {
		e.at.errorf("%q wants a colon after the key: write %s: %s", e.key, name, strings.TrimSpace(value))
		return name, true
	}
	if name, value, ok := strings.Cut(e.key, ":"); ok && value != "" && f.section.child(name) != nil {
		e.at.errorf("%s", spaced(name, value))
		return name, true
	}
	if before == nil || e.key == "" || e.key[0] < '0' || e.key[0] > '9' || f.section.child(before.key) == nil {
		return "", false
	}
	text := before.node.Value + "," + e.key
	if _, err := someVolume(text); before.node.Kind == yaml.ScalarNode && err != nil && strings.Contains(err.Error(), "decimals take a point") {
		if guess := meant(text, someVolume); guess != "" {
			err = fmt.Errorf("%q: decimals take a point: did you mean %s?", text, guess)
		}
		before.errorf("%v", err)
		return before.key, true
	}
	return "", false
}

// misspelt tells of a value that was refused what its letters show, where that
// is the reason.
func misspelt(text string) string {
	switch straight := straightened.Replace(text); {
	case straight != text && strings.ContainsAny(text, "“”„‘’‚«»"):
		return fmt.Sprintf("%q: it has curly quotes: write %s", text, straight)
	case plainly(text) != text:
		return fmt.Sprintf("%q: it has letters that only look like those of a plain keyboard: write %s", text, plainly(text))
	case letterForDigit(text) != "":
		return fmt.Sprintf("%q: it has a letter for a digit: did you mean %s?", text, letterForDigit(text))
	case hash.MatchString(text):
		return fmt.Sprintf("%q: a comment wants a space before its #", text)
	}
	return ""
}

var (
	hash         = regexp.MustCompile(`[0-9A-Za-z%]#`)
	straightened = strings.NewReplacer("“", `"`, "”", `"`, "„", `"`, "«", `"`, "»", `"`, "‘", `"`, "’", `"`, "‚", `"`)
)
