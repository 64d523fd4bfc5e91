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

// theoryOf are the packages of formulae, in which a function that nothing but a
// test calls looks like one that the program stands on.
var theoryOf = []string{"hw/hydraulics", "schedule/demand", "controller/solution"}

// Rows of published numbers that only hold code which no command reaches prove
// nothing of the program.
func TestEveryFormulaIsAskedFor(t *testing.T) {
	named, declared := map[string]bool{}, map[string]string{}
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		own := map[*ast.Ident]bool{}
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				own[f.Name] = true
				if f.Name.IsExported() && isTheory(path) {
					declared[f.Name.Name] = file.Name.Name
				}
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if id, ok := n.(*ast.Ident); ok && !own[id] {
				named[id.Name] = true
			}
			return true
		})
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, len(declared), 60)
	left := map[string]bool{}
	for name, pkg := range declared {
		if !named[name] && !standard[name] {
			left[pkg+"."+name] = true
		}
	}
	assert.Empty(t, left, "called by tests alone: delete them with their rows")
}

// standard are methods that the standard library calls.
var standard = map[string]bool{"Error": true, "String": true, "MarshalJSON": true, "UnmarshalText": true, "Unwrap": true}

func isTheory(path string) bool {
	for _, p := range theoryOf {
		if filepath.ToSlash(filepath.Dir(path)) == "../../"+p {
			return true
		}
	}
	return false
}
