package config_test

import (
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
)

// good are the files that hold no mistakes.
func good(t *testing.T) (all [][]byte) {
	files, err := filepath.Glob(configs + "*.yaml")
	require.NoError(t, err)
	for _, path := range files {
		if !strings.HasPrefix(filepath.Base(path), "wrong-") {
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			all = append(all, data)
		}
	}
	return append(all, config.Example)
}

// What the reader asks for and is not described makes it panic; so the two are
// the same when every described key is also read.
func TestEveryDescribedKeyIsRead(t *testing.T) {
	read, held := map[string]bool{}, map[string]bool{}
	for _, data := range good(t) {
		r, h := config.Seen(data)
		maps.Copy(read, r)
		maps.Copy(held, h)
	}
	for _, k := range config.Keys() {
		assert.True(t, read[k.Path], "no good file has %s, or the reader passes over it", k.Path)
		usual, _ := k.UsualSpan(quantity.Metric)
		assert.Equal(t, usual != "", held[k.Path], "%s: what is usual is said, and held to, of numbers that plain reads", k.Path)
	}
}

// unset are fields of what is read that no key of the file sets.
var unset = map[string]string{
	"Site.sheets": "worked out", "Site.busiest": "worked out", "Batch.Passages": "people say them",
	"Bench.Reservoir": "an index, and the first is 0", "Stirring.Reservoir": "an index, and the first is 0",
}

// Every field of what is read comes from some key of the good files.
func TestEveryFieldOfTheSiteIsReadFromTheFile(t *testing.T) {
	set := map[string]bool{}
	all := map[string]bool{}
	for _, data := range good(t) {
		site, problems := config.Parse("bench.yaml", data)
		require.NoError(t, problems.Err())
		walkFields(reflect.ValueOf(site).Elem(), set, all)
	}
	for name := range all {
		assert.True(t, set[name] || unset[name] != "", "no good file sets %s", name)
	}
	assert.Greater(t, len(all), 100)
}

// walkFields notes every field of the structs of this module, and those that are
// not at their zero value.
func walkFields(v reflect.Value, set, all map[string]bool) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			walkFields(v.Elem(), set, all)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			walkFields(v.Index(i), set, all)
		}
	case reflect.Struct:
		if !strings.HasPrefix(v.Type().PkgPath(), "benchtide/") {
			return
		}
		for i := range v.NumField() {
			name := v.Type().Name() + "." + v.Type().Field(i).Name
			all[name] = true
			if !v.Field(i).IsZero() {
				set[name] = true
			}
			if unset[name] == "" {
				walkFields(v.Field(i), set, all)
			}
		}
	}
}

func TestEveryKeySaysWhatAPersonNeeds(t *testing.T) {
	for _, k := range config.Keys() {
		assert.NotEmpty(t, k.Is, k.Path)
		assert.NotEmpty(t, k.Example, k.Path)
		assert.NotEqual(t, strings.ToUpper(k.Is[:1]), k.Is[:1], "%s: what it is begins small", k.Path)
		assert.False(t, strings.HasSuffix(k.Is, "."), k.Path)
		item := k.Name() == strings.ToUpper(k.Name())
		assert.True(t, k.Needed || item || k.Default != "" || k.Without != "", "%s: say what holds without it", k.Path)
		assert.False(t, k.Needed && k.Default != "", "%s: it is needed and has a default", k.Path)
		switch k.Kind {
		case config.Length, config.Volume, config.Flow, config.PhotonFlux, config.GPIOLine:
			assert.NotEmpty(t, k.Measure, "%s: say where one measures it", k.Path)
		case config.Choice:
			assert.NotEmpty(t, k.Words, k.Path)
		}
	}
}

// Each plain key of the good files is given the example of its description: the
// reader takes its spelling.
func TestTheReaderTakesEveryExample(t *testing.T) {
	tried := map[string]bool{}
	for _, data := range good(t) {
		var doc yaml.Node
		require.NoError(t, yaml.Unmarshal(data, &doc))
		eachValue(doc.Content[0], "", func(path string, n *yaml.Node) {
			k := config.KeyAt(path)
			if k == nil || !k.Kind.Plain() || k.Kind == config.OwnName || k.Kind == config.Reference || tried[k.Path] {
				return
			}
			var example yaml.Node
			require.NoError(t, yaml.Unmarshal([]byte(k.Example), &example), k.Path)
			was := *n
			*n = *example.Content[0]
			text, err := yaml.Marshal(&doc)
			*n = was
			require.NoError(t, err)
			_, err = config.Wiring("bench.yaml", text)
			require.NoError(t, err, k.Path)
			tried[k.Path] = true
		})
	}
	for _, k := range config.Keys() {
		if k.Kind.Plain() && k.Kind != config.OwnName && k.Kind != config.Reference {
			assert.True(t, tried[k.Path], k.Path)
		}
	}
}

// eachValue calls visit for every value under a node, with its path in the file.
func eachValue(n *yaml.Node, path string, visit func(string, *yaml.Node)) {
	join := func(key string) string { return strings.TrimPrefix(path+"."+key, ".") }
	for i, c := range n.Content {
		switch n.Kind {
		case yaml.MappingNode:
			if i%2 == 1 {
				visit(join(n.Content[i-1].Value), c)
				eachValue(c, join(n.Content[i-1].Value), visit)
			}
		case yaml.SequenceNode:
			eachValue(c, join(strconv.Itoa(i+1)), visit)
		}
	}
}
