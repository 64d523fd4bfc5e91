package main

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

var updatePapers = flag.Bool("papers", false, "write the sessions in README.md and the guide anew from what the commands print")

// shownSession is a fenced block of a paper that shows a command and its output.
var shownSession = regexp.MustCompile("(?ms)^```\n\\$ (benchtide [^\n]+)\n(.*?)^```$")

// The sessions in README.md and the guide are what the commands print, word for word.
func TestPapersShowWhatTheCommandsPrint(t *testing.T) {
	exe, err := os.Executable()
	require.NoError(t, err)
	papers, err := filepath.Glob("../../deploy/guide/*.md")
	require.NoError(t, err)
	week, err := os.ReadFile("../../testdata/scenarios/week.yaml")
	require.NoError(t, err)
	dir := t.TempDir()
	bin := filepath.Join(dir, "bin")
	require.NoError(t, os.MkdirAll(bin, 0o755))
	require.NoError(t, os.Symlink(exe, filepath.Join(bin, "benchtide")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bench.yaml"), config.Example, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "week.yaml"), week, 0o644))

	shown := 0
	for _, path := range append(papers, "../../README.md") {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		now := shownSession.ReplaceAllStringFunc(string(text), func(block string) string {
			shown++
			command := shownSession.FindStringSubmatch(block)[1]
			cmd := exec.Command(filepath.Join(bin, "benchtide"), strings.Fields(command)[1:]...)
			cmd.Args[0], cmd.Dir = "benchtide", dir
			out, err := cmd.Output()
			require.NoError(t, err, command)
			return "```\n$ " + command + "\n" + strings.TrimRight(string(out), "\n") + "\n```"
		})
		if *updatePapers {
			require.NoError(t, os.WriteFile(path, []byte(now), 0o644))
			continue
		}
		assert.Equal(t, string(text), now, "%s: go test ./cmd/benchtide -run Papers -papers writes them anew", path)
	}
	require.GreaterOrEqual(t, shown, 4, "the papers show sessions")
}

// shownCommissioning is the block that shows parts of a commissioning.
var shownCommissioning = regexp.MustCompile("(?ms)^```\n(Step 2 of .*?)^```$")

// What the guide shows of a commissioning are lines of a whole one, in order;
// the script of the command line keeps that whole one.
func TestTheGuideShowsPartsOfAWholeCommissioning(t *testing.T) {
	text, err := os.ReadFile("../../deploy/guide/commission.md")
	require.NoError(t, err)
	script, err := os.ReadFile("../../testdata/scripts/commission.txtar")
	require.NoError(t, err)
	_, whole, found := strings.Cut(string(script), "-- said.txt --\n")
	require.True(t, found)
	block := shownCommissioning.FindStringSubmatch(string(text))
	require.NotNil(t, block)
	for _, part := range strings.Split(block[1], "...\n") {
		_, rest, found := strings.Cut(whole, part)
		require.True(t, found, "not said, or not in this order:\n%s", part)
		whole = rest
	}
}
