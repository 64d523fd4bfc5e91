package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// reader walks the nodes of a file and notes every problem it meets, so that
// one run shows them all. It remembers where each value stands, for the checks
// that look at several values together.
type reader struct {
	file      string
	text      string // of the whole file
	problems  Problems
	positions map[string]position
	bad       []string        // paths with an error
	numbers   []number        // those that were read, in the order in which they were
	odd       []string        // paths with a number that is unusual
	seen      map[string]bool // keys whose values were read; nil when nobody asks
	measures  [2]int          // by measure: how many quantities are written in it
	units     quantity.Units  // in which the site is told of its figures
}

type position struct{ line, column int }

// value is one value of the file and the path of keys that leads to it.
type value struct {
	r    *reader
	node *yaml.Node
	path string
}

// document returns the top of the file.
func (r *reader) document(data []byte) (value, bool) {
	r.text = string(data)
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	var doc yaml.Node
	if err := decoder.Decode(&doc); err != nil {
		r.syntax(err)
		return value{}, false
	}
	var more yaml.Node
	if err := decoder.Decode(&more); err == nil {
		r.note(position{more.Line, more.Column}, "", false, "a second document: one file describes one site; leave out what follows the --- line")
	} else if !errors.Is(err, io.EOF) {
		r.syntax(err)
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 {
		r.note(position{1, 1}, "", false, "the file describes no site: begin with the keys %s", inWords(neededKeys(described.top), "and"))
		return value{}, false
	}
	return value{r, doc.Content[0], ""}, true
}

var yamlLine = regexp.MustCompile(`^line (\d+): `)

// syntax notes what the YAML parser refused, where it said so.
func (r *reader) syntax(err error) {
	if errors.Is(err, io.EOF) {
		r.note(position{1, 1}, "", false, "the file is empty: begin with the keys %s", inWords(neededKeys(described.top), "and"))
		return
	}
	if at, said, found := slipOfYAML(r.text); found {
		r.note(at, "", false, "%s", said)
		return
	}
	text, line := strings.TrimPrefix(err.Error(), "yaml: "), 1
	if m := yamlLine.FindStringSubmatch(text); m != nil {
		line, _ = strconv.Atoi(m[1])
		text = text[len(m[0]):]
	}
	r.note(position{line, 1}, "", false, "not YAML: %s; look for a missing colon, quote or bracket, or wrong indentation", text)
}

func (r *reader) note(at position, path string, warning bool, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if path != "" {
		text = path + ": " + text
	}
	if !warning {
		r.bad = append(r.bad, path)
	}
	r.problems = append(r.problems, Problem{File: r.file, Line: at.line, Column: at.column, Text: text, Warning: warning})
}

// errorf notes an error about the value at path, or at the nearest that leads
// there.
func (r *reader) errorf(path, format string, args ...any) {
	r.note(r.positionOf(path), path, false, format, args...)
}

// warning is one about the value at path.
func (r *reader) warning(path, text string) Problem {
	at := r.positionOf(path)
	return Problem{File: r.file, Line: at.line, Column: at.column, Text: path + ": " + text, Warning: true}
}

// warnf notes a warning about the value at path.
func (r *reader) warnf(path, format string, args ...any) {
	r.note(r.positionOf(path), path, true, format, args...)
}

func (r *reader) positionOf(path string) position {
	for {
		if at, ok := r.positions[path]; ok {
			return at
		}
		dot := strings.LastIndexByte(path, '.')
		if dot < 0 {
			return position{1, 1}
		}
		path = path[:dot]
	}
}

// sound reports whether nothing at or under any of the paths has an error.
func (r *reader) sound(paths ...string) bool {
	return !slices.ContainsFunc(r.bad, func(bad string) bool {
		return slices.ContainsFunc(paths, func(path string) bool {
			return bad == path || strings.HasPrefix(bad, path+".")
		})
	})
}

func (v value) errorf(format string, args ...any) {
	v.r.note(position{v.node.Line, v.node.Column}, v.path, false, format, args...)
}

// under returns the value that key, standing at node at, leads to.
func (v value) under(key string, at, node *yaml.Node) value {
	path := key
	if v.path != "" {
		path = v.path + "." + key
	}
	v.r.positions[path] = position{node.Line, node.Column}
	if node.Kind == yaml.ScalarNode && node.Value == "" {
		v.r.positions[path] = position{at.Line, at.Column}
	}
	return value{v.r, node, path}
}

// is reports whether the value is of this kind, and notes what belongs here when
// it is not.
func (v value) is(kind yaml.Kind, right string) bool {
	switch {
	case v.node.Kind == kind && !(kind == yaml.ScalarNode && v.node.Tag == "!!null"):
		return true
	case v.node.Kind == yaml.AliasNode:
		v.errorf("an alias (*%s): write the value out here", v.node.Value)
	case v.node.Kind == yaml.ScalarNode && v.node.Tag == "!!null":
		v.errorf("nothing is written here: %s", right)
	case v.node.Kind == yaml.ScalarNode && kind == yaml.MappingNode && tightColon.MatchString(v.node.Value):
		key, value, _ := strings.Cut(v.node.Value, ":")
		v.errorf("%s", spaced(key, value))
	case v.node.Kind == yaml.ScalarNode:
		v.errorf("%s: %s", texts.Short(v.node.Value), right)
	default:
		v.errorf("expected %s", right)
	}
	return false
}

// key is the description of what belongs here.
func (v value) key() *Key {
	k := described.at(v.path)
	if k == nil {
		panic("config: no key of the file is described as " + v.path)
	}
	if v.r.seen != nil {
		v.r.seen[k.Path] = true
	}
	return k
}

// hint is what belongs here, with an example.
func (v value) hint() string { return v.key().hint(v.r.units) }

// entry is one key of a mapping with its value.
type entry struct {
	key string
	at  value // the key itself
	value
}

// entries returns the keys and values of a mapping in order of the file; a
// doubled key is noted and left out.
func (v value) entries() []entry {
	if !v.is(yaml.MappingNode, v.hint()) {
		return nil
	}
	var all []entry
	lines := map[string]int{}
	for i := 0; i+1 < len(v.node.Content); i += 2 {
		key, node := v.node.Content[i], v.node.Content[i+1]
		at := value{v.r, key, v.path}
		if !at.is(yaml.ScalarNode, "a key is a plain word") {
			continue
		}
		if line, doubled := lines[key.Value]; doubled {
			at.errorf("key %s: it stands on line %d already; keep one of the two", texts.Short(key.Value), line)
			continue
		}
		lines[key.Value] = key.Line
		all = append(all, entry{key.Value, at, v.under(key.Value, key, node)})
	}
	return all
}

// items returns the values of a list; paths count from 1.
func (v value) items() []value {
	if !v.is(yaml.SequenceNode, v.hint()) {
		return nil
	}
	var all []value
	for i, node := range v.node.Content {
		all = append(all, v.under(strconv.Itoa(i+1), node, node))
	}
	return all
}

// oneOrMore returns the values of a list, or the value alone when it is no list.
func (v value) oneOrMore() []value {
	if v.node.Kind == yaml.SequenceNode {
		return v.items()
	}
	return []value{v}
}

// fields are the values of a section.
type fields struct {
	value
	section *Key
	at      map[string]value
	slipped map[string]bool // keys whose values are told of already
}

// fields reads a section: a mapping that may have the keys that are described
// for it, and no others.
func (v value) fields() fields {
	f := fields{v, v.key(), map[string]value{}, map[string]bool{}}
	all := v.entries()
	absent := slices.DeleteFunc(f.section.names(), func(name string) bool {
		return slices.ContainsFunc(all, func(e entry) bool { return e.key == name })
	})
	for i, e := range all {
		if f.section.child(e.key) != nil {
			f.at[e.key] = e.value
			continue
		}
		var before *entry
		if i > 0 {
			before = &all[i-1]
		}
		if key, found := f.slipOfKey(e, before); found {
			delete(f.at, key)
			f.slipped[key] = true
			continue
		}
		key := closest(e.key, absent)
		if key == "" {
			key = f.section.soleNeeded(absent, all)
		}
		e.at.errorf("unknown key %s: %s", texts.Short(e.key), e.unknown(f.section, key))
		if key != "" {
			f.slipped[key] = true
			f.r.bad = append(f.r.bad, f.join(key))
		}
	}
	return f
}

// soleNeeded is the one key that a section needs and lacks, where the section has one
// unknown key that may be it.
func (k *Key) soleNeeded(absent []string, all []entry) (key string) {
	unknown := 0
	for _, e := range all {
		if k.child(e.key) == nil {
			unknown++
		}
	}
	lacking := slices.DeleteFunc(slices.Clone(absent), func(name string) bool { return !k.child(name).Needed })
	if unknown != 1 || len(lacking) != 1 {
		return ""
	}
	return lacking[0]
}

// unknown says what would be right in place of an unknown key: the key that is meant,
// or the section where it belongs.
func (e entry) unknown(in *Key, meant string) string {
	if meant != "" {
		return "did you mean " + meant + "?"
	}
	right := "known here are " + inWords(in.names(), "and")
	if positions := described.elsewhere(e.key); len(positions) > 0 && len(positions) <= 2 {
		right += "; it belongs under " + inWords(positions, "or")
	}
	return right
}

// get returns the value of a key; false when it is not there.
func (f fields) get(key string) (value, bool) {
	if f.section.child(key) == nil {
		panic("config: no key of the file is described as " + f.join(key))
	}
	v, ok := f.at[key]
	return v, ok
}

// need returns the value of a key that has to be there, and notes when it is not.
func (f fields) need(key string) (value, bool) {
	v, ok := f.get(key)
	if !ok && !f.slipped[key] && f.node.Kind == yaml.MappingNode {
		f.r.note(f.r.positionOf(f.path), f.join(key), false, "missing: %s", f.section.child(key).hint(f.r.units))
	}
	return v, ok
}

func (f fields) join(key string) string {
	if f.path == "" {
		return key
	}
	return f.path + "." + key
}

// scalar reads one plain value, which is one line of a sane length.
func scalar[T any](v value, parse func(string) (T, error)) (read T, ok bool) {
	if !v.is(yaml.ScalarNode, v.hint()) {
		return read, false
	}
	if err := texts.Line(v.node.Value, texts.Value); err != nil {
		v.errorf("%s: %v", texts.Short(v.node.Value), err)
		return read, false
	}
	read, err := parse(v.node.Value)
	if err != nil {
		said := misspelt(v.node.Value)
		if said == "" {
			said = v.told(err)
		}
		if guess := meant(v.node.Value, parse); guess != "" && !strings.Contains(said, "did you mean") && !strings.Contains(said, "write "+guess) {
			said += ": did you mean " + guess + "?"
		}
		v.errorf("%s", said)
		return read, false
	}
	if u, known := quantity.UnitsOf(v.node.Value); known {
		v.r.measures[u]++
	}
	return read, true
}

// told is what an error says in the units that people read, which who writes in US
// units does.
func (v value) told(err error) string {
	u := v.r.units
	if written, known := quantity.UnitsOf(v.node.Value); known && written == quantity.US {
		u = written
	}
	return u.Told(err)
}

func neededKeys(section *Key) (all []string) {
	for _, k := range section.below {
		if k.Needed {
			all = append(all, k.Name())
		}
	}
	return all
}
