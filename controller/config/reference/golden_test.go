package reference_test

import (
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/controller/config/reference"
	"benchtide/controller/quantity"
)

var update = flag.Bool("update", false, "rewrite the reference, the manual page and the schema")

// What is written of the keys is what their descriptions come to.
func TestWhatIsWrittenOfTheKeysIsOfToday(t *testing.T) {
	schema, err := reference.Schema()
	require.NoError(t, err)
	for path, text := range map[string]string{
		"../../../deploy/guide/keys.md":    reference.Page(),
		"../../../deploy/benchtide.yaml.5": reference.Manual(),
		"../bench.schema.json":             string(schema),
	} {
		if *update {
			require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		}
		was, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, string(was), text, "%s: write it anew with -update", path)
	}
}

func TestEveryKeyIsExplained(t *testing.T) {
	all, err := reference.Explain("", quantity.Metric)
	require.NoError(t, err)
	for _, k := range config.Keys() {
		text, err := reference.Explain(k.Path, quantity.Metric)
		require.NoError(t, err, k.Path)
		assert.Contains(t, text, k.Path+": ")
		assert.Contains(t, text, "Example:", k.Path)
		assert.Contains(t, all, k.Name())
		if rule, _ := k.UsualSpan(quantity.Metric); rule != "" {
			assert.Contains(t, text, rule, k.Path)
		}
	}
}

func TestAPersonMayNameAKeyInManyWays(t *testing.T) {
	for name, want := range map[string]string{
		"benches.north.table.rim": "benches.NAME.table.rim: a length",
		"table.rim":               "benches.NAME.table.rim: a length",
		"rim":                     "benches.NAME.table.rim: a length",
		"RIM:":                    "benches.NAME.table.rim: a length",
		"batches.3.pot.volume":    "batches.BATCH.pot.volume: a volume",
		"stirring.2.output":       "stirring.output: a name",
		"line":                    "Several keys end so",
	} {
		text, err := reference.Explain(name, quantity.Metric)
		require.NoError(t, err, name)
		assert.Contains(t, text, want, name)
	}
	_, err := reference.Explain("cress", quantity.Metric)
	assert.EqualError(t, err, `explain "cress": no key of the file has that name: did you mean crest?`)
	_, err = reference.Explain("weather_forecast", quantity.Metric)
	assert.EqualError(t, err, `explain "weather_forecast": no key of the file has that name: benchtide explain lists them all`)
}
