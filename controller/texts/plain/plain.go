// Package plain judges texts that people read, for the tests of whatever makes
// them: no names that are for programs, no raw durations, no sentence that has to
// be taken apart.
package plain

import (
	"fmt"
	"regexp"
	"strings"
)

var (
	command  = regexp.MustCompile(`"?\bbenchtide [a-z-]+( no)?( \w+)?"?|--[a-z-]+`) // what a person types is spelt as it is
	under    = regexp.MustCompile(`\w_\w`)
	raw      = regexp.MustCompile(`\b\d+h\d+m|\b\d+m\d+s|\b\d+(\.\d+)?(ns|µs|ms)\b|\b\d{3,} h\b|\b(4[89]|[5-9]\d) h\b`)
	figures  = regexp.MustCompile(`\d\d:\d\d(:\d\d)?`)
	colon    = regexp.MustCompile(`: `)
	ends     = regexp.MustCompile(`[.?!]\s+`)
	twice    = regexp.MustCompile(`\b([A-Za-z]+) ([A-Za-z]+)\b`)
	singular = regexp.MustCompile(`(^|[^\d.,-])1 (floods|days|hours|litres|switches|benches|times|weeks|messages|ways|alarms)\b`)
	slip     = regexp.MustCompile(`%!|\bNaN\b|\bInf\b|<nil>|\bnull\b|\bundefined\b|\[object`)
)

// Faults lists what a reader would stumble over. Codes are names for programs that
// must not stand in a text; names may stand once in a sentence.
func Faults(text string, codes, names []string) (found []string) {
	add := func(format string, args ...any) { found = append(found, fmt.Sprintf(format, args...)+" in "+text) }
	text = command.ReplaceAllString(text, "")
	for what, pattern := range map[string]*regexp.Regexp{"an underscore": under, "a raw duration": raw, "a slip": slip, "one of many": singular} {
		if at := pattern.FindString(text); at != "" {
			add("%s, %q,", what, at)
		}
	}
	for _, c := range codes {
		if strings.Contains(c, "-") && strings.Contains(text, c) && regexp.MustCompile(`(^|[^\w-])`+regexp.QuoteMeta(c)+`($|[^\w-])`).MatchString(text) {
			add("the code %q", c)
		}
	}
	for _, s := range ends.Split(text, -1) {
		if len(colon.FindAllString(figures.ReplaceAllString(s, "0"), -1)) > 1 {
			add("two colons in %q", s)
		}
		for _, n := range names {
			if strings.Count(s, n) > 1 && len(regexp.MustCompile(`\b`+regexp.QuoteMeta(n)+`\b`).FindAllString(s, -1)) > 1 {
				add("%q twice in %q", n, s)
			}
		}
		words := strings.Fields(s)
		for i := 1; i < len(words); i++ {
			if words[i] == words[i-1] && twice.MatchString(words[i]+" "+words[i-1]) {
				add("%q doubled", words[i])
			}
		}
	}
	return found
}
