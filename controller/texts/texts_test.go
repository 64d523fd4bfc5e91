package texts_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/texts"
)

func TestATextIsOneLineOfABoundedLength(t *testing.T) {
	for text, refused := range map[string]string{
		"":                                "",
		"Quarry Lane school greenhouse":   "",
		"Gärtnerei Müller, Haus №2 🌱":     "",
		strings.Repeat("ü", texts.Name):   "",
		strings.Repeat("ü", texts.Name+1): "81 letters: write at most 80",
		"north\nlevel=ERROR":              "a line break after letter 5: write one line",
		"north\r\nBcc: all@example.org":   "a line break",
		"a\u2028b":                        "a line break",
		"a\u0085b":                        "a line break",
		"a\tb":                            "a tab at letter 2",
		"a\x00b":                          "U+0000 at letter 2",
		"\x1b[2J":                         "U+001B at letter 1",
		"a\u009b2J":                       "U+009B",
		"txt\u202egpj":                    "U+202E",
		"\xff":                            "UTF-8",
	} {
		err := texts.Line(text, texts.Name)
		if refused == "" {
			assert.NoError(t, err, "%q", text)
			continue
		}
		assert.ErrorContains(t, err, refused, "%q", text)
	}
}

func TestWhatIsWrongIsRepeatedInShort(t *testing.T) {
	assert.Equal(t, `"a\nb"`, texts.Short("a\nb"))
	assert.Less(t, len(texts.Short(strings.Repeat("x", 5000))), 100)
}
