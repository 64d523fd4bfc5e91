package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// topics are what the files of published values are about, by how their names begin.
var topics = map[string]string{
	"fao56": "what plants use", "demand": "what plants use", "hydraulics": "hydraulics", "sheet": "bench sheet",
	"plants": "warmth and light", "kcl": "solution", "oxygen": "solution", "solution": "solution",
}

// How many rows there are of each topic is in the log, by how they are known: read,
// whatever was worked out beside that, computed elsewhere, or from memory in any part.
func TestRowsAreOfATopicAndKnownInAWay(t *testing.T) {
	files, err := filepath.Glob("../../testdata/published/*.csv")
	require.NoError(t, err)
	count := map[string]map[string]int{}
	for _, name := range files {
		f, err := os.Open(name)
		require.NoError(t, err)
		r := csv.NewReader(f)
		r.Comment = '#'
		lines, err := r.ReadAll()
		f.Close()
		require.NoError(t, err, name)
		first, _, _ := strings.Cut(filepath.Base(name), "-")
		topic, column := topics[first], slices.Index(lines[0], "known")
		require.NotEmpty(t, topic, name)
		if column < 0 && !slices.ContainsFunc(lines[0], func(c string) bool { return strings.HasPrefix(c, "want") }) {
			continue // what other rows are worked out from
		}
		for _, line := range lines[1:] {
			way := "computed"
			switch {
			case column >= 0 && strings.Contains(line[column], "memory"):
				way = "from memory"
			case column >= 0 && strings.HasPrefix(line[column], "read"):
				way = "read"
			}
			if count[topic] == nil {
				count[topic] = map[string]int{}
			}
			count[topic][way]++
		}
	}
	for topic, ways := range count {
		t.Logf("%-16s %4d read, %4d computed elsewhere, %4d from memory", topic, ways["read"], ways["computed"], ways["from memory"])
		assert.Greater(t, ways["read"]+ways["computed"], ways["from memory"], topic)
	}
}
