package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// undocumented lists the exported names of a file without a word on what they are:
// a comment over the declaration, over its group, or beside it in its line.
// Methods that the standard library calls need none.
func undocumented(f *ast.File) (all []string) {
	note := func(name string, docs ...*ast.CommentGroup) {
		for _, d := range docs {
			if d.Text() != "" {
				return
			}
		}
		if ast.IsExported(name) && !standard[name] {
			all = append(all, name)
		}
	}
	for _, d := range f.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Recv == nil || isExportedType(d.Recv.List[0].Type) {
				note(d.Name.Name, d.Doc)
			}
		case *ast.GenDecl:
			for _, s := range d.Specs {
				switch s := s.(type) {
				case *ast.TypeSpec:
					note(s.Name.Name, s.Doc, d.Doc, s.Comment)
				case *ast.ValueSpec:
					for _, name := range s.Names {
						note(name.Name, s.Doc, d.Doc, s.Comment)
					}
				}
			}
		}
	}
	return all
}

func isExportedType(t ast.Expr) bool {
	if pointer, ok := t.(*ast.StarExpr); ok {
		t = pointer.X
	}
	name, ok := t.(*ast.Ident)
	return ok && name.IsExported()
}

func TestEveryExportedNameSaysWhatItIs(t *testing.T) {
	files := 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		files++
		assert.Empty(t, undocumented(f), path)
		return nil
	})
	require.NoError(t, err)
	assert.Greater(t, files, 300)
}

func TestANameWithoutADocCommentIsFound(t *testing.T) {
	f, err := parser.ParseFile(token.NewFileSet(), "x.go", `package x
// Said is said.
type Said int
type Mute int
func (Mute) Turn() {}
func (Said) String() string { return "" }
// The two.
const ( One = 1; Two = 2 )
const Three = 3
var hidden, Shown int
func Done() {}
`, parser.ParseComments)
	require.NoError(t, err)
	assert.Equal(t, []string{"Mute", "Turn", "Three", "Shown", "Done"}, undocumented(f))
}
