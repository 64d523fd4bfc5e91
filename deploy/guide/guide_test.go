// Package guide_test follows the links of the papers that people read, in the
// repository and in a package.
package guide_test

import (
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

const root = "../.."

// papers are the Markdown files that lead a reader, by their paths from the root.
func papers(t *testing.T) []string {
	all := []string{"README.md", "DEVELOPERS.md"}
	for _, pattern := range []string{"deploy/*.md", "deploy/guide/*.md"} {
		found, err := filepath.Glob(filepath.Join(root, pattern))
		require.NoError(t, err)
		for _, f := range found {
			rel, err := filepath.Rel(root, f)
			require.NoError(t, err)
			all = append(all, filepath.ToSlash(rel))
		}
	}
	require.Greater(t, len(all), 10)
	return all
}

var (
	link     = regexp.MustCompile(`\]\(([^)\s]+)\)`)
	heading  = regexp.MustCompile(`(?m)^#+ (.*)$`)
	dropped  = regexp.MustCompile(`[^\p{L}\p{N} _-]`)
	fenced   = regexp.MustCompile("(?ms)^```.*?^```$")
	packages = "/usr/share/doc/benchtide/"
)

// anchors are the ends of links that lead to a heading of a paper.
func anchors(text string) map[string]bool {
	found := map[string]bool{}
	for _, h := range heading.FindAllStringSubmatch(fenced.ReplaceAllString(text, ""), -1) {
		found[strings.ReplaceAll(dropped.ReplaceAllString(strings.ToLower(h[1]), ""), " ", "-")] = true
	}
	return found
}

// links calls look with each link of a paper that leads to another file, and what
// it leads to from the root.
func links(t *testing.T, paper string, look func(to, anchor string)) {
	text, err := os.ReadFile(filepath.Join(root, paper))
	require.NoError(t, err)
	for _, l := range link.FindAllStringSubmatch(fenced.ReplaceAllString(string(text), ""), -1) {
		if strings.Contains(l[1], "://") || strings.HasPrefix(l[1], "mailto:") {
			continue
		}
		file, anchor, _ := strings.Cut(l[1], "#")
		to := paper
		if file != "" {
			to = path.Join(path.Dir(paper), file)
		}
		look(to, anchor)
	}
}

func TestEveryLinkLeadsSomewhere(t *testing.T) {
	for _, paper := range papers(t) {
		links(t, paper, func(to, anchor string) {
			text, err := os.ReadFile(filepath.Join(root, to))
			if anchor == "" {
				_, err = os.Stat(filepath.Join(root, to))
			}
			if assert.NoError(t, err, "%s leads to %s", paper, to) && anchor != "" {
				assert.True(t, anchors(string(text))[anchor], "%s leads to %s, which has no heading %q", paper, to, anchor)
			}
		})
	}
}

// packaged reports whether a package has a file or folder of the repository at its
// own place under the documents.
func packaged(t *testing.T) func(of string) bool {
	data, err := os.ReadFile(filepath.Join(root, "deploy/nfpm.yaml"))
	require.NoError(t, err)
	var made struct{ Contents []struct{ Src, Dst string } }
	require.NoError(t, yaml.Unmarshal(data, &made))
	return func(of string) bool {
		for _, c := range made.Contents {
			dst, document := strings.CutPrefix(c.Dst, packages)
			if !document {
				continue
			}
			if matched, _ := path.Match(c.Src, of); matched && (dst == of || dst == path.Dir(of)+"/") {
				return true
			}
			if strings.HasSuffix(c.Src, "/") && c.Src == dst && strings.HasPrefix(of+"/", c.Src) {
				return true
			}
			if strings.HasPrefix(c.Src, of+"/") && strings.HasPrefix(dst, of+"/") { // the folder of something that it has
				return true
			}
		}
		return false
	}
}

// A reader of the package's papers finds all that they lead to, without a network.
func TestEveryLinkLeadsSomewhereInAPackageToo(t *testing.T) {
	has := packaged(t)
	read := 0
	for _, paper := range papers(t) {
		if !has(paper) {
			continue
		}
		read++
		links(t, paper, func(to, _ string) {
			assert.True(t, has(to), "%s leads to %s, which no package has there", paper, to)
		})
	}
	assert.Greater(t, read, 12)
	assert.False(t, has("deploy/mutants"), "what no package has is not found")
}

// The first page is one that a person reads to its end.
func TestTheReadmeIsShort(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	assert.LessOrEqual(t, strings.Count(string(text), "\n"), 250, "lines")
	assert.Contains(t, string(text), "licensed person")
	assert.Contains(t, string(text), "No licence has been granted yet")
}
