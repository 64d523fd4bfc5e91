package safety

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Words, labels and alarms are asked for of those that Interlocks lists.
func TestInterlocksListsEveryInterlock(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "interlock.go", nil, parser.SkipObjectResolution)
	require.NoError(t, err)
	named := []Interlock{}
	ast.Inspect(file, func(n ast.Node) bool {
		if v, ok := n.(*ast.ValueSpec); ok && len(v.Values) == 1 {
			if text, ok := v.Values[0].(*ast.BasicLit); ok {
				name, err := strconv.Unquote(text.Value)
				require.NoError(t, err)
				named = append(named, Interlock(name))
			}
		}
		return true
	})
	assert.ElementsMatch(t, named, append([]Interlock{HandsIn}, Interlocks...))
}
