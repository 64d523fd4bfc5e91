package alarm

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchtide/controller"
	"benchtide/controller/texts"
	"benchtide/safety"
)

// called has the causes that are no interlocks; a cause may go on with the name
// of what it is about.
var called = map[string]string{
	weld: controller.Welded.Words, flood: "A flood did not do its work", fill: "A fill failed and is tried again", "missed": "A flood was missed",
	"unrecorded": "A flood without a record", "watched": "The first flood after a reset", output: "An output does not obey", "hands-in": "Hands in is still on",
	clock: "The clock is not trusted", storage: "Storage takes no writes", "outage": "The controller was off", "sanitising": "Being sanitised", "pause": "The pause has ended",
	"skip": "A skip is over", "record": "The record was damaged", settings: "The file is not in force", "drift": "A bench changes slowly", "messages": "Messages have trouble", "proof-test": "A proof test is overdue",
	controller.LostCause: "Water is missing", "digest": "The week", "test": "A test message",
}

// after is what a cause with a name is called, around that name.
var after = []struct {
	cause, words string
	called       func(texts.Titles, string) string
}{
	{crop, "% waits for water", texts.Titles.Batch}, {low, "Too little water in %", texts.Titles.Reservoir},
	{channels, "Messages by % do not get out", func(_ texts.Titles, name string) string { return texts.Spaced(name) }},
	{controller.LostCause + "-", "Water is missing from %", texts.Titles.Reservoir}, {"came-", "Water came into %", texts.Titles.Reservoir},
	{"stage-", "The next stage of % is due", texts.Titles.Batch}, {silent, "The thermometer of % is silent", texts.Titles.Reservoir},
}

// Words are what people call an alarm.
func (a *Alarm) Words(t texts.Titles) string {
	if slices.Contains(a.Also, weld) {
		return Words(t, weld)
	}
	return Words(t, a.Cause)
}

// Words are what people call a cause.
func Words(t texts.Titles, cause string) string {
	if words, ok := called[cause]; ok {
		return words
	}
	for _, k := range after {
		if name, ok := strings.CutPrefix(cause, k.cause); ok {
			words := strings.Replace(k.words, "%", k.called(t, name), 1)
			first, size := utf8.DecodeRuneInString(words)
			return string(unicode.ToUpper(first)) + words[size:]
		}
	}
	return controller.Called(safety.Interlock(strings.TrimPrefix(cause, refused)))
}
