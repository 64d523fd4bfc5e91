package main

import (
	"fmt"
	"go/ast"
	gobuild "go/build"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lockless are packages in which a turn of the loop meets whoever looks at the
// site: they publish by pointer, and nobody can hold a lock over anything there.
var lockless = []string{"controller/live"}

// turnLocks are the locks that a turn of the loop takes, by package and by what
// is locked. Whoever holds one may work on memory, and on nothing that another
// part, a file or a network could make wait.
var turnLocks = map[string][]string{
	"controller/ledger":  {"l.mu"},
	"controller/loop":    {"q.mu"},
	"controller/metrics": {"c.mu"},
	"controller/notify":  {"b.mu"},
	"hw/gpio":            {"t.mu"},
}

// harmless are packages whose functions work on what they are given alone.
var harmless = []string{
	"bytes", "cmp", "encoding/binary", "encoding/json", "errors", "fmt", "hash/crc32", "maps", "math", "reflect", "slices", "strings", "sync/atomic", "time",
	"benchtide/controller", "benchtide/controller/notify/outbox", "benchtide/safety", "benchtide/schedule",
}

// ownFiles are a package's own files, with what each name in them stands for.
type ownFiles struct {
	files  *token.FileSet
	parsed []*ast.File
	info   types.Info
	own    *types.Package
	bodies map[types.Object]*ast.BlockStmt
	given  map[types.Object]bool // parameters
}

func ownFilesOf(t *testing.T, dir string) *ownFiles {
	paths, err := filepath.Glob(filepath.Join("../..", dir, "*.go"))
	require.NoError(t, err)
	s := &ownFiles{files: token.NewFileSet()}
	for _, path := range paths {
		if here, err := gobuild.Default.MatchFile(filepath.Dir(path), filepath.Base(path)); strings.HasSuffix(path, "_test.go") || err != nil || !here {
			continue
		}
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		s.add(t, path, string(text))
	}
	require.NotEmpty(t, s.parsed, dir)
	s.resolve(t, dir)
	return s
}

func (s *ownFiles) add(t *testing.T, path, text string) {
	f, err := parser.ParseFile(s.files, path, text, parser.SkipObjectResolution)
	require.NoError(t, err)
	s.parsed = append(s.parsed, f)
}

// resolve finds out what each name stands for; of other packages by what the
// compiler has left of them.
func (s *ownFiles) resolve(t *testing.T, dir string) {
	list := exec.Command("go", "list", "-export", "-deps", "-f", "{{.ImportPath}} {{.Export}}", "./"+dir)
	list.Dir = "../.."
	out, err := list.Output()
	require.NoError(t, err)
	compiled := map[string]string{}
	for line := range strings.Lines(string(out)) {
		path, file, _ := strings.Cut(strings.TrimSpace(line), " ")
		compiled[path] = file
	}
	c := types.Config{Importer: importer.ForCompiler(s.files, "gc", func(path string) (io.ReadCloser, error) { return os.Open(compiled[path]) })}
	s.info = types.Info{Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{}}
	s.own, err = c.Check(dir, s.files, s.parsed, &s.info)
	require.NoError(t, err)
	s.bodies, s.given = map[types.Object]*ast.BlockStmt{}, map[types.Object]bool{}
	for _, f := range s.parsed {
		ast.Inspect(f, func(n ast.Node) bool {
			if of, ok := n.(*ast.FuncType); ok {
				for _, p := range of.Params.List {
					for _, name := range p.Names {
						s.given[s.info.Defs[name]] = true
					}
				}
			}
			return true
		})
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Body != nil {
				s.bodies[s.info.Defs[fn.Name]] = fn.Body
			}
		}
	}
}

// locks lists what is locked in a package: "l.mu" of l.mu.Lock().
func (s *ownFiles) locks() (all []string) {
	for _, f := range s.parsed {
		ast.Inspect(f, func(n ast.Node) bool {
			if of, ok := lockedBy(n, "Lock", "RLock"); ok {
				all = append(all, of)
			}
			return true
		})
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// lockedBy is what a call of one of these methods is of, spelt out.
func lockedBy(n ast.Node, methods ...string) (string, bool) {
	call, ok := n.(*ast.CallExpr)
	if !ok {
		return "", false
	}
	of, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || !slices.Contains(methods, of.Sel.Name) {
		return "", false
	}
	return spelt(of.X), true
}

func spelt(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return spelt(e.X) + "." + e.Sel.Name
	}
	return "?"
}

// waits lists what happens while a lock is held and could wait: a call out of
// the package or of a function that was handed in, a channel that may be full or
// empty, another lock.
func (s *ownFiles) waits(lock string) (found []string) {
	for fn, body := range s.bodies {
		for _, span := range lockedIn(body, lock) {
			s.look(body, span[0], span[1], map[types.Object]bool{fn: true}, &found)
		}
	}
	slices.Sort(found)
	return slices.Compact(found)
}

// lockedIn is where in a body a lock is held: from each Lock to the Unlock in the
// same block, or to the end where that is deferred.
func lockedIn(body *ast.BlockStmt, lock string) (spans [][2]token.Pos) {
	ast.Inspect(body, func(n ast.Node) bool {
		block, ok := n.(*ast.BlockStmt)
		if !ok {
			return true
		}
		for i, st := range block.List {
			if !calls(st, lock, "Lock", "RLock") {
				continue
			}
			end := body.End()
			for _, later := range block.List[i+1:] {
				if calls(later, lock, "Unlock", "RUnlock") {
					end = later.Pos()
					break
				}
			}
			spans = append(spans, [2]token.Pos{st.End(), end})
		}
		return true
	})
	return spans
}

// calls reports whether a statement is a call of one of these methods of a lock.
func calls(st ast.Stmt, lock string, methods ...string) bool {
	e, ok := st.(*ast.ExprStmt)
	if !ok {
		return false
	}
	of, ok := lockedBy(e.X, methods...)
	return ok && of == lock
}

// look notes what could wait between two places, and in the functions of the
// package that are called there.
func (s *ownFiles) look(body ast.Node, from, to token.Pos, seen map[types.Object]bool, found *[]string) {
	note := func(n ast.Node, what string) {
		*found = append(*found, fmt.Sprintf("%s %s", filepath.Base(s.files.Position(n.Pos()).String()), what))
	}
	ast.Inspect(body, func(n ast.Node) bool {
		if n == nil || n.End() <= from || n.Pos() >= to {
			return false
		}
		switch n := n.(type) {
		case *ast.SelectStmt:
			return !slices.ContainsFunc(n.Body.List, func(c ast.Stmt) bool { return c.(*ast.CommClause).Comm == nil }) // one with a default waits for nothing
		case *ast.DeferStmt, *ast.GoStmt:
			return false
		case *ast.SendStmt:
			note(n, "sends")
		case *ast.UnaryExpr:
			if n.Op == token.ARROW {
				note(n, "receives")
			}
		case *ast.CallExpr:
			if n.Pos() >= from {
				s.call(n, seen, found, note)
			}
		}
		return true
	})
}

// call notes a call that could wait, and looks into one of the package's own.
func (s *ownFiles) call(n *ast.CallExpr, seen map[types.Object]bool, found *[]string, note func(ast.Node, string)) {
	called := s.called(n.Fun)
	body := s.bodies[called]
	switch of := called.(type) {
	case nil, *types.Builtin, *types.TypeName:
	case *types.Func:
		switch {
		case body != nil && !seen[called]:
			seen[called] = true
			s.look(body, body.Pos(), body.End(), seen, found)
		case body != nil || of.Name() == "Unlock" || of.Name() == "Keep" || of.Pkg() == nil || slices.Contains(harmless, of.Pkg().Path()):
		default:
			note(n, "calls "+of.FullName())
		}
	case *types.Var:
		if of.IsField() || s.given[of] {
			note(n, "calls "+of.Name()+", which was handed in")
		}
	}
}

// called is what is called; nil of a conversion to a type without a name, and of
// a function that is written in its place, which is looked at where it stands.
func (s *ownFiles) called(e ast.Expr) types.Object {
	switch e := ast.Unparen(e).(type) {
	case *ast.Ident:
		return s.info.Uses[e]
	case *ast.SelectorExpr:
		return s.info.Uses[e.Sel]
	case *ast.IndexExpr:
		return s.called(e.X)
	}
	return nil
}

func TestNoLockOfATurnIsHeldOverACall(t *testing.T) {
	for dir, locks := range turnLocks {
		s := ownFilesOf(t, dir)
		for _, lock := range locks {
			assert.Contains(t, s.locks(), lock, dir)
			for _, w := range s.waits(lock) {
				t.Errorf("while %s of %s is held: %s", lock, dir, w)
			}
		}
	}
}

func TestWhereTheSiteIsLookedAtThereIsNoLock(t *testing.T) {
	for _, dir := range lockless {
		s := ownFilesOf(t, dir)
		assert.Empty(t, s.locks(), dir)
	}
}

func TestACallUnderALockIsFound(t *testing.T) {
	s := &ownFiles{files: token.NewFileSet()}
	s.add(t, "p.go", `package p

import (
	"os"
	"sync"
)

type A struct {
	mu   sync.Mutex
	n    int
	c    chan int
	path string
	tell func()
}

func (a *A) good() {
	a.mu.Lock()
	a.n = max(a.n, 1)
	select {
	case a.c <- 1:
	default:
	}
	a.mu.Unlock()
	a.tell()
}

func (a *A) bad() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.inner()
	a.c <- 1
	<-a.c
}

func (a *A) inner() {
	os.Remove(a.path)
	a.tell()
}
`)
	s.resolve(t, "controller/live") // for what the compiler has left of os and sync
	assert.Equal(t, []string{"a.mu"}, s.locks())
	assert.Equal(t, []string{"p.go:31:2 sends", "p.go:32:2 receives", "p.go:36:2 calls os.Remove", "p.go:37:2 calls tell, which was handed in"}, s.waits("a.mu"))
}
