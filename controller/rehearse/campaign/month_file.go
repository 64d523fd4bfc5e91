package campaign

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"benchtide/controller/rehearse"
)

// write is the scenario as a file that the rehearsal reads, head above it as a
// comment.
func write(s *rehearse.Scenario, zone *time.Location, head string) string {
	var b strings.Builder
	for line := range strings.Lines(head) {
		b.WriteString("# " + strings.TrimRight(line, "\n") + "\n")
	}
	fmt.Fprintf(&b, "from: %s\ndays: %d\nseed: %d\nweather: %s\nattended: %t\n", s.From, s.Days, s.Seed, s.Weather, s.Attended)
	if s.Nature != nil {
		fmt.Fprintf(&b, "nature: %s\n", s.Nature.Name)
	}
	section(&b, "faults", len(s.Faults), func(i int) string { return faultLine(&s.Faults[i], zone) })
	section(&b, "acts", len(s.Acts), func(i int) string { return actLine(&s.Acts[i], zone) })
	return b.String()
}

func section(b *strings.Builder, name string, n int, line func(int) string) {
	if n == 0 {
		return
	}
	b.WriteString(name + ":\n")
	for i := range n {
		b.WriteString("  - {" + line(i) + "}\n")
	}
}

func faultLine(f *rehearse.Fault, zone *time.Location) string {
	keys := []string{"what: " + f.What}
	if f.Where != "" {
		keys = append(keys, "where: "+f.Where)
	}
	keys = append(keys, instant("at", f.At, zone))
	if f.For > 0 {
		keys = append(keys, seconds("for", f.For))
	}
	if f.Over > 0 {
		keys = append(keys, seconds("over", f.Over))
	}
	if f.Size != all {
		keys = append(keys, fmt.Sprintf("size: %.4g %%", 100*f.Size))
	}
	return strings.Join(keys, ", ")
}

func actLine(a *rehearse.Act, zone *time.Location) string {
	keys := []string{"do: " + a.Do}
	if a.Where != "" {
		keys = append(keys, "where: "+a.Where)
	}
	keys = append(keys, instant("at", a.At, zone))
	if a.Found != "" {
		keys = append(keys, fmt.Sprintf("found: %q", a.Found))
	}
	if !a.Until.IsZero() {
		keys = append(keys, instant("until", a.Until, zone))
	}
	if a.For > 0 {
		keys = append(keys, seconds("for", a.For))
	}
	if a.Hold > 0 {
		keys = append(keys, seconds("hold", a.Hold))
	}
	if a.Do == "hands-in" {
		keys = append(keys, fmt.Sprintf("on: %t", a.On))
	}
	return strings.Join(keys, ", ")
}

func instant(key string, t time.Time, zone *time.Location) string {
	return fmt.Sprintf("%s: %q", key, t.In(zone).Format(time.RFC3339))
}

func seconds(key string, d time.Duration) string {
	return key + ": " + strconv.FormatFloat(d.Seconds(), 'f', -1, 64) + " s"
}
