package rehearse

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/hw/sim"
	"benchtide/schedule"
)

// ParseScenario reads the scenario file called name for a site. All problems
// are in the error, a config.Problems, each with its line and column.
func ParseScenario(name string, data []byte, site *config.Site) (Scenario, error) {
	world, err := NewWorld(site, time.Time{})
	if err != nil {
		return Scenario{}, err
	}
	p := &page{file: name, site: site, world: world}
	var s Scenario
	if top, ok := p.top(data); ok {
		s = p.scenario(top)
	}
	slices.SortStableFunc(p.problems, func(a, b config.Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return s, p.problems.Err()
}

// page is a scenario file being read.
type page struct {
	file     string
	site     *config.Site
	world    *sim.World // knows what can happen where
	problems config.Problems
}

func (p *page) wrong(n *yaml.Node, format string, args ...any) {
	p.problems = append(p.problems, config.Problem{File: p.file, Line: max(n.Line, 1), Column: max(n.Column, 1), Text: fmt.Sprintf(format, args...)})
}

var yamlLine = regexp.MustCompile(`^line (\d+): `)

func (p *page) top(data []byte) (*yaml.Node, bool) {
	var doc yaml.Node
	switch err := yaml.NewDecoder(bytes.NewReader(data)).Decode(&doc); {
	case errors.Is(err, io.EOF):
		p.wrong(&doc, "the file is empty: begin with from: 2026-03-02 and days: 30")
		return nil, false
	case err != nil:
		text := strings.TrimPrefix(err.Error(), "yaml: ")
		if m := yamlLine.FindStringSubmatch(text); m != nil {
			doc.Line, _ = strconv.Atoi(m[1])
			text = text[len(m[0]):]
		}
		p.wrong(&doc, "not YAML: %s", text)
		return nil, false
	}
	return doc.Content[0], true
}

func (p *page) scenario(top *yaml.Node) Scenario {
	m := p.keys(top, "from", "days", "seed", "weather", "nature", "attended", "faults", "acts")
	s := Scenario{
		From:     read(m, "from", true, 0, schedule.ParseDate),
		Days:     read(m, "days", true, 0, days),
		Seed:     read(m, "seed", false, 1, seed),
		Weather:  read(m, "weather", false, usualWeather, weatherName),
		Nature:   read(m, "nature", false, nil, sim.NatureNamed),
		Attended: read(m, "attended", false, true, strconv.ParseBool),
	}
	for _, n := range m.list("faults") {
		s.Faults = append(s.Faults, p.fault(n))
	}
	for _, n := range m.list("acts") {
		s.Acts = append(s.Acts, p.act(n))
	}
	return s
}

// weatherName reads a kind of weather, or the name of a file of days on record.
func weatherName(text string) (string, error) {
	if _, file := (&Scenario{Weather: text}).RecordsFile(); file {
		return text, nil
	}
	kind, err := oneOf(slices.Sorted(maps.Keys(Weathers)))(text)
	if err != nil {
		err = fmt.Errorf("%w, or a file of records that ends in .csv", err)
	}
	return kind, err
}

// fault reads one fault and asks the simulated site whether it can happen there.
func (p *page) fault(n *yaml.Node) Fault {
	m := p.keys(n, "what", "where", "at", "for", "over", "size")
	found := len(p.problems)
	f := Fault{
		What:  read(m, "what", true, "", oneOf(sim.Faults())),
		Where: read(m, "where", false, "", text),
		At:    read(m, "at", true, time.Time{}, p.instant),
		For:   read(m, "for", false, 0, quantity.ParseDuration),
		Over:  read(m, "over", false, 0, quantity.ParseDuration),
		Size:  read(m, "size", false, 1, share),
	}
	if len(p.problems) > found {
		return f
	}
	if err := p.world.Inject(sim.Fault{What: f.What, Where: f.Where, At: time.Hour, For: f.For, Over: f.Over, Size: f.Size}); err != nil {
		p.wrong(n, "%v", err)
	}
	return f
}

func (p *page) act(n *yaml.Node) Act {
	m := p.keys(n, "do", "where", "at", "found", "until", "for", "hold", "on")
	a := Act{
		Do:    read(m, "do", true, "", oneOf(actNames())),
		At:    read(m, "at", true, time.Time{}, p.instant),
		Found: read(m, "found", false, "", text),
		Until: read(m, "until", false, time.Time{}, p.instant),
		For:   read(m, "for", false, 0, quantity.ParseDuration),
		Hold:  read(m, "hold", false, 0, quantity.ParseDuration),
		On:    read(m, "on", false, true, strconv.ParseBool),
	}
	kind, known := acts[a.Do]
	if !known {
		return a
	}
	if kind.places != nil {
		a.Where = read(m, "where", true, "", oneOf(kind.places(p.site)))
	}
	for _, key := range kind.needs {
		if m.at[key] == nil {
			p.wrong(n, "%s: missing: it needs %s", a.Do, key)
		}
	}
	return a
}

// instant reads a point in time: with an offset as it stands, without one as
// the site's local time.
func (p *page) instant(s string) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t, nil
		}
	}
	c, err := schedule.ParseCivil(s)
	if err != nil {
		return time.Time{}, err
	}
	return c.In(p.site.Zone), nil
}

// mapping is the values of a mapping by key.
type mapping struct {
	page *page
	node *yaml.Node
	at   map[string]*yaml.Node
}

// keys reads a mapping that may have these keys and no others.
func (p *page) keys(n *yaml.Node, known ...string) mapping {
	m := mapping{p, n, map[string]*yaml.Node{}}
	if n.Kind != yaml.MappingNode {
		p.wrong(n, "%q: expected the keys %s", n.Value, strings.Join(known, ", "))
		return m
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key := n.Content[i]
		switch {
		case !slices.Contains(known, key.Value):
			p.wrong(key, "unknown key %q: known here are %s", key.Value, strings.Join(known, ", "))
		case m.at[key.Value] != nil:
			p.wrong(key, "key %q stands here twice: keep one of the two", key.Value)
		default:
			m.at[key.Value] = n.Content[i+1]
		}
	}
	return m
}

func (m mapping) list(key string) []*yaml.Node {
	n := m.at[key]
	switch {
	case n == nil:
		return nil
	case n.Kind != yaml.SequenceNode:
		m.page.wrong(n, "%s: write a list, each item after a dash", key)
		return nil
	}
	return n.Content
}

// read reads the plain value of a key; otherwise is what it is without one.
func read[T any](m mapping, key string, needed bool, otherwise T, parse func(string) (T, error)) T {
	n := m.at[key]
	switch {
	case n == nil && needed && m.node.Kind == yaml.MappingNode:
		m.page.wrong(m.node, "%s: missing", key)
		return otherwise
	case n == nil:
		return otherwise
	case n.Kind != yaml.ScalarNode:
		m.page.wrong(n, "%s: write one plain value", key)
		return otherwise
	}
	v, err := parse(n.Value)
	if err != nil {
		m.page.wrong(n, "%s: %v", key, err)
		return otherwise
	}
	return v
}

// oneOf reads one of a few words.
func oneOf(known []string) func(string) (string, error) {
	return func(s string) (string, error) {
		if slices.Contains(known, s) {
			return s, nil
		}
		return "", fmt.Errorf("%q is not known: write one of %s", s, strings.Join(known, ", "))
	}
}

func text(s string) (string, error) { return s, nil }

// share reads a part of one, below zero too.
func share(s string) (float64, error) {
	rest, negative := strings.CutPrefix(strings.TrimSpace(s), "-")
	f, err := quantity.ParseFraction(rest)
	if negative {
		f = -f
	}
	return float64(f), err
}

func days(s string) (int, error) {
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 || n > longestDays {
		return 0, fmt.Errorf("%q: write how many days it lasts, 1 to %d", s, longestDays)
	}
	return n, nil
}

func seed(s string) (uint64, error) {
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q: write a whole number from 0", s)
	}
	return n, nil
}
