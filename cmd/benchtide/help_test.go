package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
)

var shownWord = regexp.MustCompile(`"[^"]*"|\S+`)

// Each command's help shows an example, which is a command line that it takes.
func TestEveryCommandShowsAnExampleThatItTakes(t *testing.T) {
	parser := func() *kong.Kong {
		return kong.Must(cli.Grammar(commands()), kong.ExplicitGroups(cli.Groups), kong.WithHyphenPrefixedParameters(true))
	}
	for _, leaf := range parser().Model.Leaves(true) {
		t.Run(leaf.Path(), func(t *testing.T) {
			shown := 0
			for line := range strings.Lines(leaf.Detail) {
				if !strings.HasPrefix(line, "    ") {
					continue
				}
				_, example, _ := strings.Cut(line, "benchtide ")
				_, afterUser, another := strings.Cut(example, "-- benchtide ")
				if another {
					example = afterUser
				}
				example, _, _ = strings.Cut(example, " >")
				var args []string
				for _, word := range shownWord.FindAllString(example, -1) {
					args = append(args, strings.Trim(word, `"`))
				}
				c, err := parser().Parse(args)
				require.NoError(t, err, line)
				assert.Equal(t, leaf.Path(), c.Selected().Path(), line)
				shown++
			}
			assert.Positive(t, shown)
		})
	}
}

// Each exported type of the packages of commands that runs as one is a row of the
// table: a command that is written and not listed is none.
func TestEveryCommandThatRunsIsInTheTable(t *testing.T) {
	listed := map[string]bool{}
	for _, c := range commands() {
		listed[reflect.TypeOf(c.Do).String()] = true
	}
	for _, p := range []string{"bench", "client", "daemon", "offline"} {
		files, err := filepath.Glob(filepath.Join(p, "*.go"))
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, file := range files {
			f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
			require.NoError(t, err)
			for _, d := range f.Decls {
				if command, ok := runs(d); ok {
					assert.True(t, listed[p+"."+command], "%s: %s is in no table", file, command)
				}
			}
		}
	}
}

// runs is the exported type whose method Run a declaration is.
func runs(d ast.Decl) (string, bool) {
	f, ok := d.(*ast.FuncDecl)
	if !ok || f.Recv == nil || f.Name.Name != "Run" {
		return "", false
	}
	of, ok := f.Recv.List[0].Type.(*ast.Ident)
	if !ok {
		return "", false
	}
	return of.Name, of.IsExported()
}
