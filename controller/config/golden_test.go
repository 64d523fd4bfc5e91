package config_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	_ "time/tzdata"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const configs = "../../testdata/configs/"

// Files called wrong-… hold mistakes and the others hold none; beside each
// stands the report that it gets.
func TestEachFileGetsItsReport(t *testing.T) {
	files, err := filepath.Glob(configs + "*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, path := range files {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			site, problems := config.Parse(name, data)
			report := config.NewReport(name, site, problems)
			assert.Equal(t, !strings.HasPrefix(name, "wrong-"), report.OK())

			var text bytes.Buffer
			require.NoError(t, report.WriteText(&text))
			golden := strings.TrimSuffix(path, ".yaml") + ".golden"
			if *update {
				require.NoError(t, os.WriteFile(golden, text.Bytes(), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			assert.Equal(t, string(want), text.String())
		})
	}
}
