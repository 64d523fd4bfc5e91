package reference

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
)

// about says of a key what there is to say, one thing a line.
func about(k *config.Key, u quantity.Units) []string {
	lines := []string{upper(u.Example(k.Is)) + "."}
	add := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	switch {
	case k.Kind == config.Choice:
		add("One of: %s.", strings.Join(k.Words, ", "))
	case k.Kind.Plain():
		many := ""
		if k.Many {
			many = ", or a list of such"
		}
		between := k.Between(u)
		if between != "" {
			between = ", " + between
		}
		add("Written as: %s%s%s.", k.Kind.WrittenAs(), between, many)
	case k.Many:
		add("One section, or a list of such.")
	}
	if rule, never := k.UsualSpan(u); rule != "" {
		add("As a rule: %s; never %s.", rule, never)
	}
	switch {
	case k.Needed:
		add("It is needed.")
	case k.Default != "" || k.Without != "":
		add("Without it: %s.", u.Example(cmp.Or(k.Default, k.Without)))
	}
	for _, rule := range ruleWords(k) {
		add("%s", rule)
	}
	if k.Measure != "" {
		add("Where from: %s.", u.Example(k.Measure))
	}
	if k.Since != "" {
		add("Since %s.", k.Since)
	}
	return lines
}

func ruleWords(k *config.Key) (all []string) {
	if len(k.One) > 0 {
		all = append(all, "Give one of "+strings.Join(k.One, ", ")+", and only one.")
	}
	if len(k.Any) > 0 {
		all = append(all, "Give "+strings.Join(k.Any, " or ")+", or both.")
	}
	for _, pair := range k.Both {
		all = append(all, fmt.Sprintf("%s and %s go together.", upper(pair[0]), pair[1]))
	}
	return all
}

func upper(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// example is a value as it stands in the file, under its key.
func example(k *config.Key, u quantity.Units) string {
	name, value := k.Name(), u.Example(k.Example)
	switch {
	case strings.HasPrefix(k.Example, "- "):
		return fmt.Sprintf("%s:\n  %s", name, value)
	case strings.ToUpper(name) == name: // a name of one's own, or an item of a list
		return value
	case k.Kind == config.Named && !strings.HasPrefix(k.Example, "{"):
		return fmt.Sprintf("%s:\n  %s", name, value)
	}
	return name + ": " + value
}

// Explain tells of the keys that a person may mean by a name: a whole path,
// with names or without, or the end of one, with examples in the units that the
// person reads. Without a name it lists all keys. The error says what there is near such a name.
func Explain(name string, u quantity.Units) (string, error) {
	if name == "" {
		return outline(u), nil
	}
	found := Find(name)
	if len(found) == 0 {
		return "", fmt.Errorf("explain %q: no key of the file has that name: %s", name, nearest(name))
	}
	var b strings.Builder
	for i, k := range found {
		if i > 0 {
			b.WriteByte('\n')
		}
		if len(found) > mostTold {
			fmt.Fprintf(&b, "%s: %s", k.Path, u.Example(k.Is))
			continue
		}
		b.WriteString(one(k, u))
	}
	if len(found) > mostTold {
		fmt.Fprintf(&b, "\n\nSeveral keys end so: ask for one of them, such as benchtide explain %s.\n", found[0].Path)
	}
	return b.String(), nil
}

// mostTold is of how many keys all is told at once.
const mostTold = 3

func one(k *config.Key, u quantity.Units) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n", k.Path, k.Kind)
	for _, line := range about(k, u) {
		fmt.Fprintf(&b, "  %s\n", line)
	}
	for i, line := range strings.Split(example(k, u), "\n") {
		if i == 0 {
			b.WriteString("  Example:\n")
		}
		fmt.Fprintf(&b, "    %s\n", line)
	}
	if below := k.Below(); len(below) > 0 {
		b.WriteString("  Keys:\n")
		for _, c := range below {
			needed := ""
			if c.Needed {
				needed = " (needed)"
			}
			fmt.Fprintf(&b, "    %-15s %s%s\n", c.Name(), u.Example(c.Is), needed)
		}
	}
	return b.String()
}

// Find lists the keys that a name may mean; the whole of a path before the end of
// one.
func Find(name string) (found []*config.Key) {
	name = strings.Trim(strings.TrimSuffix(name, ":"), ".")
	if k := config.KeyAt(name); k != nil && k.Path != "" {
		return []*config.Key{k}
	}
	for _, k := range config.Keys() {
		if strings.EqualFold(k.Path, name) {
			return []*config.Key{k}
		}
		if ends(strings.ToLower(k.Path), strings.ToLower(name)) {
			found = append(found, k)
		}
	}
	return found
}

// ends reports whether the parts of name stand in this order in a path, and its
// last part ends it: table.rim and rim both mean benches.NAME.table.rim.
func ends(path, name string) bool {
	have, want := strings.Split(path, "."), strings.Split(name, ".")
	if have[len(have)-1] != want[len(want)-1] {
		return false
	}
	for _, part := range want {
		i := slices.Index(have, part)
		if i < 0 {
			return false
		}
		have = have[i+1:]
	}
	return true
}

func nearest(name string) string {
	last := name[strings.LastIndexByte(name, '.')+1:]
	var near []string
	for _, k := range config.Keys() {
		if config.Near(last, k.Name()) && !slices.Contains(near, k.Name()) {
			near = append(near, k.Name())
		}
	}
	if len(near) == 0 || len(near) > 4 {
		return "benchtide explain lists them all"
	}
	return "did you mean " + strings.Join(near, " or ") + "?"
}

// outline lists every key under its section.
func outline(u quantity.Units) string {
	var b strings.Builder
	for _, k := range config.Keys() {
		needed := ""
		if k.Needed {
			needed = " (needed)"
		}
		depth := strings.Count(k.Path, ".")
		fmt.Fprintf(&b, "%-34s %s%s\n", strings.Repeat("  ", depth)+k.Name(), u.Example(k.Is), needed)
	}
	return b.String()
}
