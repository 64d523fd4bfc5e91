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

// unasked are the functions that are checked against published numbers and that
// no command asks for yet, each with what it is kept for.
var unasked = map[string]string{
	"hydraulics.Measured":    "the curve of a pump of which points are known, for the file's supply",
	"solution.AtStrength":    "the EC that a meter should show at a stage's strength with the site's water",
	"demand.Hourly":          "what plants use by the hour, for a crop clock by the hour",
	"demand.Hargreaves":      "a formula other than the forecast's, to hold the forecast against",
	"demand.PriestleyTaylor": "a formula other than the forecast's, to hold the forecast against",
	"demand.FromLight":       "a formula other than the forecast's, to hold the forecast against",
}

// theoryOf are the packages of formulae, in which a function that nothing but a
// test calls looks like one that the program stands on.
var theoryOf = []string{"hw/hydraulics", "schedule/demand", "controller/solution"}

// Rows of published numbers that only hold code which no command reaches prove
// nothing of the program.
func TestEveryFormulaIsAskedForOrListed(t *testing.T) {
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
	for name := range left {
		assert.Contains(t, unasked, name, "%s is called by tests alone: delete it, or list what it is kept for", name)
	}
	for name := range unasked {
		pkg, function, _ := strings.Cut(name, ".")
		assert.Equal(t, pkg, declared[function], "%s is gone: take it from the list", name)
		if !left[name] {
			t.Logf("%s is asked for now: take it from the list", name)
		}
	}
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
