package config_test

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

// oldFile is a file of the first kind: its tank weighs itself in part, and one of its
// lines has a name that no Raspberry Pi gives.
var oldFile = strings.NewReplacer(
	"board: simulated", "board: gpio", "usable: 200 L", "usable: 400 L", "line: GPIO24", "line: PA7",
).Replace(string(config.Example))

// renewed writes what the notes on oldFile say.
var renewed = strings.NewReplacer(
	"keep: 20 L", "inside: {length: 0.9 m, width: 0.6 m}\n    level_switch: {line: GPIO21, at: 353 L, water: closes}\n    keep: 20 L",
	"line: PA7", "line: {chip: tray-a, offset: 7}", "basil_spring,", "basil_spring, title: Basil spring, sown: 2026-02-09,",
)

type notes struct {
	Notes []struct {
		Line int
		Text string
	}
	Errors, Warnings []struct{ Text string }
}

func notesOn(t *testing.T, file string) (n notes) {
	site, problems := config.Parse("bench.yaml", []byte(file))
	data, err := json.Marshal(config.NewReport("bench.yaml", site, problems))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &n))
	require.Empty(t, n.Errors)
	return n
}

func TestAFileOfTheFirstKindIsToldOfNewerWaysOnce(t *testing.T) {
	found := notesOn(t, oldFile).Notes
	var texts []string
	for _, n := range found {
		texts = append(texts, n.Text)
		assert.Positive(t, n.Line)
	}
	assert.Equal(t, []string{
		"reservoirs.tank: how far its level falls while a table fills is guessed; write inside: {length: 0.9 m, width: 0.6 m}",
		"reservoirs.tank: no switch of it is passed by each fill, so it is seldom weighed and a slow leak shows late; write level_switch: {line: GPIO21, at: 353 L, water: closes}",
		"benches.north.full_switch.line: which line that is says only its name, which another kernel, or a second chip with such names, may change; write {chip: LABEL, offset: N} in place of PA7, as benchtide lines shows it",
		"batches.1: how old its plants are counts from the day they came onto the bench alone; write the day, such as sown: 2026-02-09",
		"batches.1: people read its name, which is made for commands; write title: Basil spring",
	}, texts)
	older := map[string]bool{}
	for _, k := range config.Keys() {
		if k.Older != "" {
			older[k.Older] = true
			assert.Contains(t, strings.Join(texts, "\n"), k.Older, k.Path)
		}
	}
	assert.Len(t, older, len(texts), "each note is of a key that came later")
}

func TestAFileThatWritesWhatItWasToldHasNoMoreNotes(t *testing.T) {
	assert.Empty(t, notesOn(t, renewed.Replace(oldFile)).Notes)
	full, err := os.ReadFile(configs + "every-key.yaml")
	require.NoError(t, err)
	assert.Empty(t, notesOn(t, string(full)).Notes)
}

// Notes are no warnings, are beside the sheet in words, and are not asked for of plants
// that have gone. What stands in many places is told once.
func TestNewerWaysAreNotesBesideTheSheet(t *testing.T) {
	site, problems := config.Parse("bench.yaml", []byte(oldFile))
	require.NoError(t, problems.Err())
	var text bytes.Buffer
	require.NoError(t, config.NewReport("bench.yaml", site, problems).WriteText(&text))
	_, after, found := strings.Cut(text.String(), "\nThe file works as it is. Newer keys would serve it:\n")
	require.True(t, found)
	assert.Equal(t, 5, strings.Count(after, "\n  bench.yaml:")+1)
	assert.NotContains(t, problems.Error(), "inside:")

	gone := notesOn(t, strings.Replace(oldFile, "transplanted: 2026-03-02", "transplanted: 2026-03-02, closed: 2026-06-01", 1))
	for _, n := range gone.Notes {
		assert.NotContains(t, n.Text, "batches")
	}
	batch := oldFile[strings.LastIndex(oldFile, "  - {name: basil_spring"):]
	three := notesOn(t, oldFile+strings.Replace(batch, "basil_spring", "b", 1)+strings.Replace(batch, "basil_spring", "c", 1))
	require.Len(t, three.Notes, 5)
	assert.Contains(t, three.Notes[3].Text, "sown: 2026-02-09 (so too in 2 more)")
}

// Every day that brought a key is one, after that of the first kind of file.
func TestKeysThatCameLaterSaySince(t *testing.T) {
	for _, k := range config.Keys() {
		if k.Since != "" || k.Older != "" {
			since, err := time.Parse(time.DateOnly, k.Since)
			require.NoError(t, err, k.Path)
			assert.Greater(t, since.Format(time.DateOnly), "2026-11-25", k.Path)
		}
	}
}
