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

var updateReadme = flag.Bool("readme", false, "write the sessions in README.md anew from what the commands print")

// shownSession is a fenced block of README.md that shows a command and its output.
var shownSession = regexp.MustCompile("(?ms)^```\n\\$ (benchtide [^\n]+)\n(.*?)^```$")

// The sessions in README.md are what the commands print, word for word.
func TestReadmeShowsWhatTheCommandsPrint(t *testing.T) {
	exe, err := os.Executable()
	require.NoError(t, err)
	path, err := filepath.Abs("../../README.md")
	require.NoError(t, err)
	text, err := os.ReadFile(path)
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
	now := shownSession.ReplaceAllStringFunc(string(text), func(block string) string {
		shown++
		command := shownSession.FindStringSubmatch(block)[1]
		cmd := exec.Command(filepath.Join(bin, "benchtide"), strings.Fields(command)[1:]...)
		cmd.Args[0], cmd.Dir = "benchtide", dir
		out, err := cmd.Output()
		require.NoError(t, err, command)
		return "```\n$ " + command + "\n" + strings.TrimRight(string(out), "\n") + "\n```"
	})
	require.Positive(t, shown, "README.md shows no session")
	if *updateReadme {
		require.NoError(t, os.WriteFile(path, []byte(now), 0o644))
		return
	}
	assert.Equal(t, string(text), now, "go test ./cmd/benchtide -run Readme -readme writes them anew")
}

// shownCommissioning is the block that shows parts of a commissioning.
var shownCommissioning = regexp.MustCompile("(?ms)^```\n(Step 2 of .*?)^```$")

// What README.md shows of a commissioning are lines of a whole one, in order;
// the script of the command line keeps that whole one.
func TestReadmeShowsPartsOfAWholeCommissioning(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
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
