package main

import (
	"fmt"
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
)

// core are the packages that are functions of what they are given: time comes
// in, wishes and events go out, so that one code path serves the board, the
// demo and every rehearsal.
var core = []string{
	"controller", "controller/chart", "controller/drift", "controller/grow", "controller/notify/alarm",
	"controller/quantity", "controller/sheet", "controller/solution", "controller/texts", "hw/hydraulics", "safety", "schedule",
}

// impureImports reach files, the network, other goroutines or chance.
var impureImports = []string{
	"bufio", "context", "crypto", "database", "io", "io/fs", "log", "math/rand", "math/rand/v2", "net", "os", "path/filepath",
	"runtime", "sync", "syscall", "unsafe",
}

// impureOfTime are the names of package time that read a clock, wait or read
// the zone files of the machine.
var impureOfTime = []string{
	"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker", "Timer", "Ticker", "Local", "LoadLocation",
}

// impurities lists what makes a file more than a function of its arguments.
func impurities(files *token.FileSet, f *ast.File) (found []string) {
	note := func(n ast.Node, what string) {
		found = append(found, fmt.Sprintf("%s: %s", files.Position(n.Pos()), what))
	}
	for _, i := range f.Imports {
		path, _ := strconv.Unquote(i.Path.Value) // it was parsed
		if slices.ContainsFunc(impureImports, func(p string) bool { return path == p || strings.HasPrefix(path, p+"/") }) {
			note(i, "imports "+path)
		}
		if path == "time" && i.Name != nil {
			note(i, "gives package time another name")
		}
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			note(n, "starts a goroutine")
		case *ast.SendStmt, *ast.SelectStmt, *ast.ChanType:
			note(n, "uses a channel")
		case *ast.SelectorExpr:
			if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains(impureOfTime, n.Sel.Name) {
				note(n, "uses time."+n.Sel.Name)
			}
		}
		return true
	})
	return found
}

func TestTheCoreReadsNoClockStartsNoGoroutineAndTouchesNoFile(t *testing.T) {
	for _, p := range core {
		paths, err := filepath.Glob(filepath.Join("../..", p, "*.go"))
		require.NoError(t, err)
		require.NotEmpty(t, paths, p)
		for _, path := range paths {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			files := token.NewFileSet()
			f, err := parser.ParseFile(files, path, nil, parser.SkipObjectResolution)
			require.NoError(t, err)
			for _, i := range impurities(files, f) {
				t.Error(i)
			}
		}
	}
}

func TestAnImpurityIsFound(t *testing.T) {
	const source = `package p

import (
	"math"
	"math/rand/v2"
	"os"
	"time"
)

var c chan int

func f() time.Duration {
	go f()
	time.Sleep(time.Second)
	select {}
	return time.Since(time.Now()) + math.MaxInt
}
`
	files := token.NewFileSet()
	f, err := parser.ParseFile(files, "p.go", source, 0)
	require.NoError(t, err)
	assert.Equal(t, []string{
		"p.go:5:2: imports math/rand/v2",
		"p.go:6:2: imports os",
		"p.go:10:7: uses a channel",
		"p.go:13:2: starts a goroutine",
		"p.go:14:2: uses time.Sleep",
		"p.go:15:2: uses a channel",
		"p.go:16:9: uses time.Since",
		"p.go:16:20: uses time.Now",
	}, impurities(files, f))
}
