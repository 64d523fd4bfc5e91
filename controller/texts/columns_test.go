package texts_test

import (
	"fmt"
	"strings"
	"testing"
	"text/tabwriter"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"benchtide/controller/texts"
)

func TestLettersTakeTheColumnsThatATerminalGivesThem(t *testing.T) {
	for text, columns := range map[string]int{
		"": 0, "north": 5, "Söder": 5, "So\u0308der": 5, "北の台": 6, "ｎ": 2, "ﾅ": 1, "الشمالية": 8, "שולחן": 5, "\u1112\u1161\u11ab": 2, "한": 2, "उत्तर": 4, "n\u200dm": 2,
	} {
		assert.Equal(t, columns, texts.Width(text), "%q", text)
	}
}

// For letters of one column each a table is what text/tabwriter makes of it.
func TestATableOfPlainLettersIsThatOfTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOf(rapid.StringMatching(`([a-zé ]{0,9}\t){0,4}[a-z]{0,5}`)).Draw(t, "lines")
		var ours, theirs strings.Builder
		a, b := texts.NewTable(&ours), tabwriter.NewWriter(&theirs, 0, 0, 2, ' ', 0)
		for _, line := range lines {
			fmt.Fprintln(a, line)
			fmt.Fprintln(b, line)
		}
		assert.NoError(t, a.Flush())
		assert.NoError(t, b.Flush())
		assert.Equal(t, theirs.String(), ours.String())
	})
}

func TestColumnsOfAnyScriptStandUnderOneAnother(t *testing.T) {
	var out strings.Builder
	table := texts.NewTable(&out)
	for _, name := range []string{"north", "北の台", "So\u0308derbord", "الطاولة"} {
		fmt.Fprintf(table, "%s\tat rest\tproven\n", name)
	}
	assert.NoError(t, table.Flush())
	for line := range strings.Lines(out.String()) {
		before, _, found := strings.Cut(line, "at rest")
		assert.True(t, found)
		assert.Equal(t, 11, texts.Width(before), line)
	}
}
