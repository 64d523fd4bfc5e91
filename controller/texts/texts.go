// Package texts says which texts of people are taken, in the file and by the
// API: one line of a bounded length, without characters that no reader sees. So
// a name or a note makes no second line of a log, no header of a mail, no escape
// of a terminal, and no screen of one label.
package texts

import (
	"fmt"
	"unicode"
	"unicode/utf8"
)

// Most letters of texts of a kind.
const (
	Name  = 80   // of a site or a person
	Value = 1000 // of whatever else stands in the file
	Note  = 2000 // of what was found, or of the diary
)

// Line refuses a text that is not one line of at most so many letters, and says
// what to write instead. The error does not repeat the text.
func Line(text string, most int) error {
	if !utf8.ValidString(text) {
		return fmt.Errorf("it is not text in UTF-8: write it anew")
	}
	n := 0
	for _, r := range text {
		n++
		switch {
		case r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029' || r == '\u0085':
			return fmt.Errorf("it has a line break after letter %d: write one line", n-1)
		case r == '\t':
			return fmt.Errorf("it has a tab at letter %d: write a space", n)
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r):
			return fmt.Errorf("it has the control character %U at letter %d, which nobody sees: leave it out", r, n)
		}
	}
	if n > most {
		return fmt.Errorf("it has %d letters: write at most %d", n, most)
	}
	return nil
}

// shown is how much of a text that is wrong is repeated.
const shown = 60

// Short is a text that is wrong, quoted, so far as it helps to find it.
func Short(text string) string {
	if letters := []rune(text); len(letters) > shown {
		return fmt.Sprintf("%q", string(letters[:shown])+"…")
	}
	return fmt.Sprintf("%q", text)
}
