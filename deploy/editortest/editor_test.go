//go:build editortest

package editortest

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// least is how many mistakes are planted.
const least = 30

// mark ends a line that holds a mistake.
const mark = "# wrong"

// schema is what the first line of a file names, as the guide has it.
func schema(t *testing.T) string {
	path, err := filepath.Abs("../../controller/config/bench.schema.json")
	require.NoError(t, err)
	require.FileExists(t, path)
	return "# yaml-language-server: $schema=file://" + path + "\n"
}

// planted are the lines of a text that say that they hold a mistake.
func planted(text string) (at []int) {
	for i, line := range strings.Split(text, "\n") {
		if strings.Contains(line, mark) {
			at = append(at, i+1)
		}
	}
	return at
}

func TestAnEditorFindsEveryMistakeAtItsLine(t *testing.T) {
	s := start(t)
	text, err := os.ReadFile("planted.yaml")
	require.NoError(t, err)
	mistakes := s.requireFound("planted.yaml", schema(t)+string(text))
	require.GreaterOrEqual(t, mistakes, least)

}

// What is no YAML is said at its line; what follows from it may be said below.
func TestAnEditorFindsWhatIsNoYAML(t *testing.T) {
	s := start(t)
	good, err := os.ReadFile(example)
	require.NoError(t, err)
	for name, change := range map[string][2]string{
		"tab":     {"  stirrer:    {line", "\tstirrer: {line"},
		"doubled": {"    keep: 20 L  ", "    keep: 20 L\n    keep: 20 L"},
		"bracket": {`flood_at: ["09:00"],`, `flood_at: ["09:00",`},
		"quotes":  {`["09:00"]`, `["09:00]`},
	} {
		before, after, found := strings.Cut(string(good), change[0])
		require.True(t, found, name)
		head := schema(t) + before + change[1]
		at := strings.Count(head, "\n") + 1
		said := s.judge("file:///"+name+".yaml", head+after)
		if assert.NotEmpty(t, said[at], "%s: nothing is said of line %d, but %v", name, at, said) {
			t.Logf("%s: %s", name, said[at][0])
		}
		assert.GreaterOrEqual(t, slices.Min(slices.Collect(maps.Keys(said))), at, "%s: said above the mistake", name)
	}
}

// requireFound has a text judged: something is said of each line that holds a
// mistake, and nothing of any other. It returns how many there are.
func (s *server) requireFound(name, text string) int {
	s.t.Helper()
	said, want := s.judge("file:///"+name, text), planted(text)
	lines := strings.Split(text, "\n")
	for _, at := range want {
		if assert.NotEmpty(s.t, said[at], "%s: nothing is said of\n%s", name, lines[at-1]) {
			s.t.Logf("%s: %s", strings.TrimSpace(strings.Split(lines[at-1], mark)[0]), said[at][0])
		}
	}
	for _, at := range slices.Sorted(maps.Keys(said)) {
		assert.Contains(s.t, want, at, "%s: of a line without a mistake is said\n%s\n%v", name, lines[at-1], said[at])
	}
	return len(want)
}

// example is the file that the program has built in.
const example = "../../controller/config/example.yaml"

func TestAnEditorSaysNothingAboutGoodFiles(t *testing.T) {
	s := start(t)
	files, err := filepath.Glob("../../testdata/configs/*.yaml")
	require.NoError(t, err)
	files = slices.DeleteFunc(files, func(path string) bool { return strings.HasPrefix(filepath.Base(path), "wrong-") })
	require.NotEmpty(t, files)
	for _, path := range append(files, example) {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Empty(t, s.judge("file:///"+filepath.Base(path), schema(t)+string(data)), path)
	}
}
