package alarm

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/texts"
)

// source is the files of a package, for the causes of the messages in it.
type source struct {
	t      *testing.T
	consts map[string]ast.Expr
	funcs  map[string]*ast.FuncDecl
	files  []*ast.File
}

func sourceOf(t *testing.T, dir string) *source {
	s := &source{t: t, consts: map[string]ast.Expr{}, funcs: map[string]*ast.FuncDecl{}}
	paths, err := filepath.Glob(filepath.Join(dir, "*.go"))
	require.NoError(t, err)
	paths = slices.DeleteFunc(paths, func(path string) bool { return strings.HasSuffix(path, "_test.go") })
	for _, path := range paths {
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		s.files = append(s.files, f)
		for _, d := range f.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				s.funcs[d.Name.Name] = d
			case *ast.GenDecl:
				for _, spec := range d.Specs {
					if v, ok := spec.(*ast.ValueSpec); ok && d.Tok == token.CONST && len(v.Values) == len(v.Names) {
						for i, name := range v.Names {
							s.consts[name.Name] = v.Values[i]
						}
					}
				}
			}
		}
	}
	return s
}

// cause is the cause that an expression gives, with "tank" for any name in it;
// false where it is that of an interlock.
func (s *source) cause(e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(e.Value)
		require.NoError(s.t, err)
		return text, true
	case *ast.BinaryExpr:
		text, ok := s.cause(e.X)
		if end, isText := e.Y.(*ast.BasicLit); isText {
			more, _ := s.cause(end)
			return text + more, ok
		}
		return text + "tank", ok && text != refused
	case *ast.Ident:
		require.True(s.t, s.consts[e.Name] != nil, e.Name)
		return s.cause(s.consts[e.Name])
	case *ast.CallExpr:
		name := e.Fun.(*ast.Ident).Name
		if name == "string" {
			return "", false
		}
		require.True(s.t, s.funcs[name] != nil, name)
		return s.cause(s.funcs[name].Body.List[0].(*ast.ReturnStmt).Results[0])
	}
	require.Fail(s.t, "a cause that this test cannot read", "%T", e)
	return "", false
}

// causes are those of all messages that the source sends, and gone those that it
// takes back.
func (s *source) causes() (all, gone []string) {
	add := func(e ast.Expr, back bool) {
		if cause, ok := s.cause(e); ok {
			all = append(all, cause)
			if back {
				gone = append(gone, cause)
			}
		}
	}
	for _, f := range s.files {
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				if call, ok := n.Fun.(*ast.SelectorExpr); ok && len(n.Args) == 4 && (call.Sel.Name == "tell" || call.Sel.Name == "tellGone") {
					add(n.Args[2], call.Sel.Name == "tellGone")
				}
			case *ast.CompositeLit:
				var cause ast.Expr
				back := false
				for _, e := range n.Elts {
					if kv, ok := e.(*ast.KeyValueExpr); ok {
						key, _ := kv.Key.(*ast.Ident)
						text, isText := kv.Value.(*ast.BasicLit)
						yes, isName := kv.Value.(*ast.Ident)
						switch {
						case key != nil && key.Name == "Cause" && isText:
							cause = text
						case key != nil && key.Name == "Gone" && isName && yes.Name == "true":
							back = true
						}
					}
				}
				if cause != nil {
					add(cause, back)
				}
			}
			return true
		})
	}
	return all, gone
}

// The subject of a message, and the list of alarms, call a cause by its words: a
// cause without any would stand there as programs write it. And what is taken back
// stands until it is, whoever knows of it.
func TestEveryCauseOfAMessageHasWordsAndItsEnd(t *testing.T) {
	n := 0
	for _, dir := range []string{"../..", "../../drift", "../../../cmd/benchtide/daemon"} {
		all, gone := sourceOf(t, dir).causes()
		for _, cause := range all {
			n++
			words := Words(texts.Titles{}, cause)
			assert.NotEqual(t, cause, words, "%s has no words: give it some in words.go", cause)
			assert.NotContains(t, words, "-", cause)
		}
		for _, cause := range gone {
			n++
			missing := cause == controller.LostCause || cause == controller.LostCause+"-tank" // a weighing may explain it and tell nobody
			assert.Equal(t, !missing, returns(cause), "%s is taken back: let it return in returns.go", cause)
		}
	}
	assert.Greater(t, n, 38)
}
