package texts

import (
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// Width is how many columns of a terminal a text takes: two for a wide letter of
// East Asia (Unicode Standard Annex #11), none for what sits on the letter before
// it, else one.
func Width(text string) (columns int) {
	for _, r := range text {
		switch {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf), r >= '\u1160' && r <= '\u11FF': // parts of a Korean letter
		case wide(r):
			columns += 2
		default:
			columns++
		}
	}
	return columns
}

func wide(r rune) bool {
	k := width.LookupRune(r).Kind()
	return k == width.EastAsianWide || k == width.EastAsianFullwidth
}

// Pad fills a text up with spaces to so many columns of a terminal.
func Pad(text string, columns int) string {
	return text + strings.Repeat(" ", max(0, columns-Width(text)))
}

// Table lines up the cells of lines, which tabs end, in columns of a terminal with
// two spaces between them. What follows the last tab of a line is no cell. Lines
// that follow one another share a column where each of them has a cell for it.
type Table struct {
	to   writer
	text strings.Builder
}

type writer interface{ Write([]byte) (int, error) }

// NewTable is an empty table, which Flush writes.
func NewTable(to writer) *Table { return &Table{to: to} }

// Write takes lines, and pieces of lines.
func (t *Table) Write(p []byte) (int, error) { return t.text.Write(p) }

// Flush writes all of it, lined up.
func (t *Table) Flush() error {
	var rows [][]string
	for line := range strings.SplitSeq(t.text.String(), "\n") {
		rows = append(rows, strings.Split(line, "\t"))
	}
	for column := 0; lineUp(rows, column); column++ {
	}
	lines := make([]string, len(rows))
	for i, row := range rows {
		lines[i] = strings.Join(row, "")
	}
	t.text.Reset()
	_, err := t.to.Write([]byte(strings.Join(lines, "\n")))
	return err
}

// lineUp pads the cells of one column; false where no line has any.
func lineUp(rows [][]string, column int) (any bool) {
	has := func(i int) bool { return i < len(rows) && len(rows[i])-1 > column }
	for from := 0; from < len(rows); from++ {
		end, widest := from, 0
		for ; has(end); end++ {
			widest = max(widest, Width(rows[end][column]))
		}
		for i := from; i < end; i++ {
			rows[i][column] = Pad(rows[i][column], widest+2)
			any = true
		}
		from = max(from, end-1)
	}
	return any
}
