package config

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"benchtide/controller/quantity"
)

// Key describes one key of the file. From these descriptions come what the
// reader takes, what it asks for in its errors, what holds where a key is left
// out, the reference, the manual page and the schema for editors.
type Key struct {
	// Path leads to the key. A part in capitals stands for a name of one's own,
	// or for the place in a list: benches.NAME.table.rim, plans.NAME.stages.STAGE.hold.
	Path string
	Kind Kind
	// Is says what stands there, as a person is asked for it.
	Is string
	// Example is a value as it is written in the file.
	Example string
	Needed  bool
	// Default holds without the key, as it would be written; empty where nothing
	// does. Without says in words what holds then.
	Default, Without string
	// Words are those of a choice; Meant are other words for them, in small letters.
	Words []string
	Meant map[string]string
	// Least and Most are the ends of what is taken, as they would be written;
	// empty without one. Zero says that nothing at all is taken too.
	Least, Most string
	Zero        bool
	// Measure says where one measures it, or reads it off.
	Measure string
	// Usual is what such a number is as a rule, and never; see bounds.
	Usual bounds
	// Many says that a section may also be a list of such sections.
	Many bool
	// Alone is the key whose list may stand in place of the whole section.
	Alone string
	// One, Any and Both are rules about the keys of a section: of the keys of One
	// exactly one stands there, of those of Any at least one, and each pair of Both
	// stands there together or not at all. Apart are sets of which not two
	// stand there with a key each.
	One, Any []string
	Both     [][2]string
	Apart    [][]string
	// Since is the day that brought the key; empty for those of the first kind of
	// file. Older is what is so in a file from before that day which it would serve.
	Since, Older string

	below []*Key // the keys of a section, in this order
}

// Keys returns every key of the file, each section before what stands in it.
func Keys() []*Key { return slices.Clone(described.list) }

// Below returns the keys of a section, or the one description of all that
// stand in a mapping of names or in a list.
func (k *Key) Below() []*Key { return slices.Clone(k.below) }

// Name is the last part of the path.
func (k *Key) Name() string { return k.Path[strings.LastIndexByte(k.Path, '.')+1:] }

// KeyAt returns the description of a key by its path in a file, such as
// benches.north.table.rim or batches.2.pots; nil where nothing is known.
func KeyAt(path string) *Key { return described.at(path) }

// hint is what belongs at a key, with an example in the units that people read.
func (k *Key) hint(u quantity.Units) string {
	is := u.Example(k.Is)
	switch {
	case k.Kind == Choice:
		return fmt.Sprintf("%s: write %s", is, inWords(k.Words, "or"))
	case k.Kind == GPIOLine:
		return fmt.Sprintf("%s, such as %s, {chip: LABEL, offset: 5} or {pin: 29}", is, k.Example)
	case k.Example == "":
		return is
	}
	return is + ", such as " + u.Example(k.Example)
}

// names lists the keys that may stand in a section.
func (k *Key) names() []string { return namesOf(k.below, (*Key).Name) }

// child is the description of what stands under a key of this name; nil
// without one.
func (k *Key) child(name string) *Key {
	for _, c := range k.below {
		if n := c.Name(); n == name || isPlaceholder(n) {
			return c
		}
	}
	return nil
}

func isPlaceholder(part string) bool {
	return part != "" && strings.IndexFunc(part, func(r rune) bool { return !unicode.IsUpper(r) }) < 0
}

// tree is all keys, from the whole file down.
type tree struct {
	top  *Key
	list []*Key
}

var described = grow(allKeys())

// grow hangs each key under the section that it belongs to.
func grow(all []Key) tree {
	t := tree{top: &Key{Kind: Section, Is: "a site: begin with the keys site, board, outputs, reservoirs, benches and plans"}}
	byPath := map[string]*Key{"": t.top}
	for i := range all {
		k := &all[i]
		parent, _ := cutLast(k.Path)
		above := byPath[parent]
		if above == nil {
			panic("config: key " + k.Path + " is described before its section")
		}
		above.below = append(above.below, k)
		byPath[k.Path] = k
		t.list = append(t.list, k)
	}
	return t
}

func cutLast(path string) (parent, name string) {
	dot := strings.LastIndexByte(path, '.')
	if dot < 0 {
		return "", path
	}
	return path[:dot], path[dot+1:]
}

func (t tree) at(path string) *Key {
	k := t.top
	for part := range strings.SplitSeq(path, ".") {
		switch next := k.child(part); {
		case path == "":
		case next != nil:
			k = next
		case k.Many && isNumber(part): // the place in a list
		case k.Alone != "" && isNumber(part):
			k = k.child(k.Alone).child(part)
		default:
			return nil
		}
	}
	return k
}

func isNumber(part string) bool {
	_, err := strconv.Atoi(part)
	return err == nil
}

// elsewhere are the sections of which this is a key, where any is.
func (t tree) elsewhere(name string) (sections []string) {
	for _, k := range t.list {
		if parent, last := cutLast(k.Path); last == name && !isPlaceholder(name) {
			if parent == "" {
				parent = "the top of the file"
			}
			sections = append(sections, parent)
		}
	}
	return sections
}

// UsualSpan says between what such a number lies as a rule, and what it is
// never; both are empty where nothing is known.
func (k *Key) UsualSpan(u quantity.Units) (rule, never string) {
	b := k.Usual
	if b.say == nil {
		return "", ""
	}
	return b.rule(u), "below " + b.about(u, b.least) + " or above " + b.about(u, b.most)
}

// Between says which ends a value has to lie between, itself taken; empty
// without any.
func (k *Key) Between(u quantity.Units) string {
	if k.Kind == Words && k.Most != "" {
		return "up to " + k.Most + " letters"
	}
	return strings.TrimPrefix(k.ends(u), " ")
}
