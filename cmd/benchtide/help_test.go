package main

import (
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
