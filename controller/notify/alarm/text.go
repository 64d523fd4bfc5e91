package alarm

import (
	"fmt"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/quantity"
	"benchtide/safety"
)

const dayAndTime = "Mon 2 Jan 15:04"

// subject is the line that a person sees on a locked phone.
func (l *List) subject(n *Notice) string {
	where := l.names.Site
	if n.Alarm.Bench != "" {
		where += ", " + l.names.Titles.Bench(n.Alarm.Bench)
	}
	what := n.Alarm.Words(l.names.Titles)
	switch n.Kind {
	case Arose:
		return fmt.Sprintf("[%s] %s: %s", n.Alarm.Urgency, where, what)
	case Again:
		return fmt.Sprintf("[%s] still %s: %s", n.Alarm.Urgency, where, what)
	case Gone:
		return fmt.Sprintf("[over] %s: %s", where, what)
	case Digest:
		return "[this week] " + where
	}
	return "[test] " + where + ": please answer"
}

// body says what happened, what was done, what to do and by when.
func (l *List) body(n *Notice) string {
	a := &n.Alarm
	var b strings.Builder
	part := func(title, text string) {
		if text != "" {
			fmt.Fprintf(&b, "%s\n  %s\n\n", title, text)
		}
	}
	if n.Kind == Gone {
		part("What happened", "This is over: "+a.Text)
		part("What to do", "Nothing, unless it comes again.")
		fmt.Fprintf(&b, "Alarm %d, since %s.\n", a.ID, l.local(a.At))
		return b.String()
	}
	happened := orElse(a.Happened, a.Text)
	if !a.Active {
		happened += " It is over already."
	}
	part("What happened", happened)
	part("What was done", orElse(a.Done, "Nothing had to be switched; the crop clock goes on."))
	part("What to do", orElse(a.Do, "Have a look at the bench."))
	part("By when", l.byWhen(a))
	part("Since then", l.since(a))
	if a.Count > 1 {
		fmt.Fprintf(&b, "It was noticed %d times since %s.\n", a.Count, l.local(a.At))
	}
	fmt.Fprintf(&b, "Alarm %d, since %s.", a.ID, l.local(a.At))
	if a.Urgency == controller.Urgent {
		fmt.Fprintf(&b, " It is repeated every %s until somebody says that he knows:\n  benchtide acknowledge %d", quantity.Duration(l.rules.Repeat), a.ID)
	}
	b.WriteString("\n")
	return b.String()
}

// since is what happened under an alarm, a line each.
func (l *List) since(a *Alarm) string {
	if len(a.History) < 2 {
		return ""
	}
	var lines []string
	for _, h := range a.History[1:] {
		lines = append(lines, l.local(h.At)+"  "+h.Text)
	}
	return strings.Join(lines, "\n  ")
}

// byWhen says how long a person has: as its urgency says, and sooner when a
// crop cannot wait that long.
func (l *List) byWhen(a *Alarm) string {
	text := "Today."
	if a.Urgency == controller.Urgent {
		text = "Now: within the hour."
	}
	if !a.By.IsZero() {
		where := "here"
		if a.Bench != "" {
			where = "on " + l.names.Titles.Bench(a.Bench)
		}
		text += fmt.Sprintf(" The plants %s can wait for water until %s.", where, l.local(a.By))
	}
	return text
}

func (l *List) local(t time.Time) string { return t.In(l.rules.Zone).Format(dayAndTime) }

func orElse(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// summary is the digest: the week's floods, what stands, what people keep
// silent, and what can wait.
func (l *List) summary(now safety.Now) string {
	var b strings.Builder
	total := 0
	for _, o := range controller.Outcomes {
		total += l.week.Floods[o]
	}
	fmt.Fprintf(&b, "The week since %s\n  %d floods", l.local(l.digest), total)
	for _, o := range controller.Outcomes {
		if k := l.week.Floods[o]; k > 0 {
			fmt.Fprintf(&b, ", %d %s", k, o)
		}
	}
	b.WriteString(".\n\n")
	l.list(&b, "What stands", now)
	b.WriteString("What can wait, this week\n")
	for _, line := range l.week.Notes {
		fmt.Fprintf(&b, "  %s\n", line)
	}
	if len(l.week.Notes) == 0 {
		b.WriteString("  Nothing.\n")
	}
	return b.String()
}

func (l *List) list(b *strings.Builder, title string, now safety.Now) {
	fmt.Fprintln(b, title)
	none := true
	for i := range l.alarms {
		a := &l.alarms[i]
		if a.State() == Normal {
			continue
		}
		none = false
		state := string(a.State())
		switch a.State() {
		case Shelved:
			state += " until " + l.local(now.Wall.Add(a.Shelf-now.Mono)) + by(a.ShelvedBy)
		case OutOfService:
			state += by(a.OutBy)
		case Acknowledged:
			state += by(a.KnownTo)
		}
		fmt.Fprintf(b, "  %d, %s, since %s, %s: %s\n", a.ID, a.Urgency, l.local(a.At), state, a.Text)
	}
	if none {
		fmt.Fprintln(b, "  Nothing: all is well.")
	}
	b.WriteString("\n")
}

func by(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}

// question asks for an answer to a test.
func (l *List) question(code string) string {
	return fmt.Sprintf(`What happened
  Somebody at %s asked for a test message. All that it shows is that
  messages reach you.

What to do
  Answer with this code:
    benchtide confirm %s

By when
  Today. The status of the site says when messages were last confirmed.
`, l.names.Site, code)
}
