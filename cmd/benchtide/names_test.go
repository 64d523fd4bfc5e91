package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// room is what the names of a package stand for.
type room struct {
	names map[string]bool // of declarations, methods, fields and what JSON calls those
	tests []string
	flags map[string]bool // of its tests
}

// house is the module's packages by their directories.
type house struct {
	root  string
	rooms map[string]*room
}

func builtHouse(t *testing.T, root string) *house {
	h := &house{root: root, rooms: map[string]*room{}}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && d.Name() == ".git" {
			return fs.SkipDir
		}
		if !strings.HasSuffix(file, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		dir, err := filepath.Rel(root, filepath.Dir(file))
		if err != nil {
			return err
		}
		h.room(filepath.ToSlash(dir)).read(f, strings.HasSuffix(file, "_test.go"))
		return nil
	})
	require.NoError(t, err)
	return h
}

func (h *house) room(dir string) *room {
	if h.rooms[dir] == nil {
		h.rooms[dir] = &room{names: map[string]bool{}, flags: map[string]bool{}}
	}
	return h.rooms[dir]
}

// read notes the names of a file.
func (r *room) read(f *ast.File, test bool) {
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			r.names[n.Name.Name] = true
			if test && strings.HasPrefix(n.Name.Name, "Test") && n.Recv == nil {
				r.tests = append(r.tests, n.Name.Name)
			}
		case *ast.TypeSpec:
			r.names[n.Name.Name] = true
		case *ast.ValueSpec:
			for _, name := range n.Names {
				r.names[name.Name] = true
			}
		case *ast.Field:
			r.field(n)
		case *ast.CallExpr:
			r.flag(n)
		}
		return true
	})
}

func (r *room) field(f *ast.Field) {
	for _, name := range f.Names {
		r.names[name.Name] = true
	}
	if f.Tag != nil {
		tag, _ := strconv.Unquote(f.Tag.Value) // it was parsed
		name, _, _ := strings.Cut(reflect.StructTag(tag).Get("json"), ",")
		r.names[name] = true
	}
}

// flag notes one that is declared by flag.Bool("name", and so on.
func (r *room) flag(c *ast.CallExpr) {
	of, ok := c.Fun.(*ast.SelectorExpr)
	if !ok || len(c.Args) < 2 {
		return
	}
	name, literal := c.Args[0].(*ast.BasicLit)
	if x, ok := of.X.(*ast.Ident); ok && literal && x.Name == "flag" {
		text, _ := strconv.Unquote(name.Value)
		r.flags[text] = true
	}
}

// packages are those of one last element, such as safety, or of a whole path.
func (h *house) packages(name string) (dirs []string) {
	for dir := range h.rooms {
		if dir == name || strings.HasSuffix(dir, "/"+name) {
			dirs = append(dirs, dir)
		}
	}
	return dirs
}

// elsewhere are names in DEVELOPERS.md that stand for nothing in the repository.
var elsewhere = map[string]string{
	"testing/synctest": "the standard library",
	"dist/release":     "deploy/release makes it",
	"v1.2.3":           "any tag",
	"PICTURES=DIR":     "the environment of deploy/pagetest/run",
	"/metrics":         "an address",
}

// goFlags are the flags of go test itself.
var goFlags = []string{"run", "v", "timeout", "count", "race", "bench", "short", "update"}

var (
	fenced   = regexp.MustCompile("(?ms)^```.*?^```$")
	span     = regexp.MustCompile("`([^`]+)`|\\bTest[A-Z]\\w*…?")
	oneIdent = regexp.MustCompile(`^[A-Za-z]\w*$`)
	filename = regexp.MustCompile(`^[\w-]+\.(go|json|sql|html)$`)
	dotted   = regexp.MustCompile(`^([a-z]+)\.([A-Z]\w*)$`)
	arrowed  = regexp.MustCompile(`^[a-z]+(/[a-z]+)*$`)
)

// missing lists the names in a text of this house that stand for nothing.
func (h *house) missing(text string) (all []string) {
	for _, block := range fenced.FindAllString(text, -1) {
		if strings.Contains(block, "cmd/benchtide →") {
			all = append(all, h.missingArrows(block)...)
		}
	}
	for _, block := range blocks(fenced.ReplaceAllString(text, "")) {
		r := reading{house: h}
		for _, s := range span.FindAllStringSubmatch(block, -1) {
			r.scope(s[1])
		}
		for part := range strings.SplitSeq(block, ";") {
			r.at = ""
			for _, s := range span.FindAllStringSubmatch(part, -1) {
				if !r.known(s[0], s[1]) {
					all = append(all, s[0])
				}
			}
		}
	}
	return all
}

// missingArrows are the packages of the drawn arrows that are none.
func (h *house) missingArrows(block string) (all []string) {
	for _, word := range strings.FieldsFunc(block, func(r rune) bool { return strings.ContainsRune("→,;\n", r) }) {
		if word = strings.TrimSpace(word); arrowed.MatchString(word) && len(h.packages(word)) == 0 {
			all = append(all, word)
		}
	}
	return all
}

// blocks are the paragraphs, list items and rows of tables, each on a line.
func blocks(text string) (all []string) {
	for paragraph := range strings.SplitSeq(text, "\n\n") {
		if strings.HasPrefix(strings.TrimSpace(paragraph), "|") {
			all = append(all, strings.Split(paragraph, "\n")...)
			continue
		}
		all = append(all, strings.ReplaceAll(paragraph, "\n", " "))
	}
	return all
}

// reading is how far a block has been read.
type reading struct {
	*house
	dirs []string // the packages that the block names, in whatever order
	at   string   // the package that was named last since a semicolon
}

// scope notes the package that a span names.
func (r *reading) scope(text string) {
	text, _, _ = strings.Cut(text, " ")
	if info, err := os.Stat(filepath.Join(r.root, text)); text != "" && err == nil {
		if !info.IsDir() {
			text = path.Dir(text)
		}
		r.dirs = append(r.dirs, text)
	}
	if m := dotted.FindStringSubmatch(text); m != nil {
		r.dirs = append(r.dirs, r.packages(m[1])...)
	}
}

// known reports whether a name stands for something; text is empty for a test.
func (r *reading) known(whole, text string) bool {
	words := strings.Fields(text)
	switch {
	case text == "":
		return r.test(whole)
	case elsewhere[text] != "":
		return true
	case words[0] == "go":
		return r.goCommand(words)
	case words[0] == "benchtide":
		return len(words) > 1 && isCommand(words[1])
	case strings.HasPrefix(text, "-"):
		return r.anyFlag(strings.TrimLeft(words[0], "-"))
	case strings.Contains(words[0], "/") || r.rooms[words[0]] != nil:
		info, err := os.Stat(filepath.Join(r.root, words[0]))
		r.at = words[0]
		if err == nil && !info.IsDir() {
			r.at = path.Dir(r.at)
		}
		return err == nil
	case filename.MatchString(text):
		return slices.ContainsFunc(r.dirs, func(dir string) bool {
			_, err := os.Stat(filepath.Join(r.root, dir, text))
			return err == nil
		})
	case dotted.MatchString(text):
		m := dotted.FindStringSubmatch(text)
		return r.named(r.packages(m[1]), m[2])
	case oneIdent.MatchString(text):
		return r.named(r.dirs, text)
	}
	return false
}

func (r *reading) named(dirs []string, name string) bool {
	return slices.ContainsFunc(dirs, func(dir string) bool { return r.rooms[dir] != nil && r.rooms[dir].names[name] })
}

// test looks for a test in the package that was named last before it, back to a
// semicolon; where none was, in all.
func (r *reading) test(name string) bool {
	begins, cut := strings.CutSuffix(name, "…")
	for dir, in := range r.rooms {
		if r.at != "" && dir != r.at {
			continue
		}
		if slices.ContainsFunc(in.tests, func(t string) bool { return t == name || cut && strings.HasPrefix(t, begins) }) {
			return true
		}
	}
	return false
}

// goCommand has the packages, tests and flags of a go command exist.
func (r *reading) goCommand(words []string) bool {
	dir := ""
	for i, w := range words {
		pkg, is := strings.CutPrefix(w, "./")
		if is && pkg != "..." {
			dir = pkg
			if r.rooms[dir] == nil {
				return false
			}
		}
		name, is := strings.CutPrefix(w, "-")
		if is && !slices.Contains(goFlags, name) && (r.rooms[dir] == nil || !r.rooms[dir].flags[name]) {
			return false
		}
		if name == "run" && !slices.ContainsFunc(r.rooms[dir].tests, regexp.MustCompile(words[i+1]).MatchString) {
			return false
		}
	}
	return true
}

func (r *reading) anyFlag(name string) bool {
	for _, in := range r.rooms {
		if in.flags[name] {
			return true
		}
	}
	return slices.ContainsFunc(leaves(), func(l *kong.Node) bool {
		return slices.ContainsFunc(l.Flags, func(f *kong.Flag) bool { return f.Name == name })
	})
}

func isCommand(name string) bool {
	return slices.ContainsFunc(leaves(), func(l *kong.Node) bool { return strings.Fields(l.Path())[0] == name })
}

// Every name in DEVELOPERS.md stands for something: packages, files, declarations,
// commands, flags and tests.
func TestEveryNameInDEVELOPERSExists(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	for _, name := range builtHouse(t, "../..").missing(string(text)) {
		t.Errorf("DEVELOPERS.md names %s, which stands for nothing where it is said to be", name)
	}
}

func TestANameThatStandsForNothingIsFound(t *testing.T) {
	h := builtHouse(t, "../..")
	const sound = "`safety` and `safety/interlock.go`, `Interlocks`, `fill.go`, `trip`, `safety.Now`, TestInvariant1…; `--open`, `go test ./safety -run Small -v -depth 5`, `deploy/fuzz 100`\n"
	require.Empty(t, h.missing(sound))
	for _, gone := range []string{
		"`saefty`", "`safety/gone.go`", "`gone.go`", "`gone`", "`safety.Nowhere`", "TestGone…", "`--gone`", "`go test ./safety -run Nowhere`",
		"`go test ./gone -v`", "`go test ./safety -gone`", "`deploy/gone 100`", "`benchtide gone`", "`controller` TestInvariant1…", "`hw`, `Interlocks`", "`hw`, `interlock.go`",
	} {
		assert.NotEmpty(t, h.missing(gone+"\n"), gone)
	}
	assert.Equal(t, []string{"gone"}, h.missing("```\ncmd/benchtide → daemon, gone\n```\n"))
}

// inParentheses is the list of the core's packages in DEVELOPERS.md.
var inParentheses = regexp.MustCompile(`(?s)The core \((.*?)\)`)

// The core that the tests hold to its rules is the core that DEVELOPERS.md tells of.
func TestTheCoreIsTheOneThatDEVELOPERSNames(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	list := inParentheses.FindSubmatch(text)
	require.NotNil(t, list)
	var told []string
	for _, s := range span.FindAllSubmatch(list[1], -1) {
		told = append(told, string(s[1]))
	}
	assert.ElementsMatch(t, core, told, "of purity_test.go and of DEVELOPERS.md")
}
