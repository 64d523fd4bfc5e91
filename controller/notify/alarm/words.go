package alarm

import (
	"slices"
	"strings"

	"benchtide/controller"
	"benchtide/safety"
)

// called has the causes that are no interlocks; a cause may go on with the name
// of what it is about.
var called = map[string]string{
	weld: controller.Welded.Words, flood: "A flood did not do its work", fill: "A fill failed and is tried again", "missed": "A flood was missed",
	"unrecorded": "A flood without a record", "watched": "The first flood after a reset", "output": "An output does not obey", "hands-in": "Hands in is still on",
	clock: "The clock is not trusted", storage: "Storage takes no writes", "outage": "The controller was off", "sanitising": "Being sanitised", "pause": "The pause has ended",
	"skip": "A skip is over", "record": "The record was damaged", "settings": "The file is not in force", "drift": "A bench changes slowly", "messages": "Messages have trouble", "proof-test": "A proof test is overdue",
	controller.LostCause: "Water is missing", "digest": "The week", "test": "A test message",
}

// after is what a cause with a name is called, around that name.
var after = []struct{ cause, words string }{
	{crop, "% waits for water"}, {low, "Too little water in %"}, {channels, "Messages by % do not get out"}, {controller.LostCause + "-", "Water is missing from %"},
	{"came-", "Water came into %"}, {"stage-", "The next stage of % is due"}, {"thermometer-", "The thermometer of % is silent"},
}

// Words are what people call an alarm.
func (a *Alarm) Words() string {
	if slices.Contains(a.Also, weld) {
		return Words(weld)
	}
	return Words(a.Cause)
}

// Words are what people call a cause.
func Words(cause string) string {
	if words, ok := called[cause]; ok {
		return words
	}
	for _, k := range after {
		if name, ok := strings.CutPrefix(cause, k.cause); ok {
			words := strings.Replace(k.words, "%", controller.Spaced(name), 1)
			return strings.ToUpper(words[:1]) + words[1:]
		}
	}
	return controller.Called(safety.Interlock(strings.TrimPrefix(cause, refused)))
}
