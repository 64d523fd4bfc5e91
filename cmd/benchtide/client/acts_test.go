package client

import (
	"encoding/json"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// described is what the tests want of the API's own description.
type described struct {
	Paths map[string]struct {
		Post *struct {
			RequestBody struct {
				Content map[string]struct {
					Schema struct {
						Ref string `json:"$ref"`
					}
				}
			}
		}
	}
	Components struct {
		Schemas map[string]struct{ Properties map[string]any }
	}
}

// fieldsOf are the names of the fields that a POST takes.
func (d *described) fieldsOf(t *testing.T, post string) []string {
	t.Helper()
	p, ok := d.Paths["/"+post]
	require.True(t, ok && p.Post != nil, "the API has no POST %s", post)
	ref := p.Post.RequestBody.Content["application/json"].Schema.Ref
	schema, ok := d.Components.Schemas[path.Base(ref)]
	require.True(t, ok, "POST %s: %q", post, ref)
	return slices.Collect(maps.Keys(schema.Properties))
}

// Each act is a POST that the API describes, with fields that it takes, and each
// POST but the log-in is an act.
func TestTheTableOfActsIsTheAPIs(t *testing.T) {
	data, err := os.ReadFile("../../../controller/web/openapi.json")
	require.NoError(t, err)
	var api described
	require.NoError(t, json.Unmarshal(data, &api))
	done := map[string]bool{"/session": true}
	for _, a := range append(slices.Clone(acts), addition) {
		done["/"+a.path] = true
		takes := api.fieldsOf(t, a.path)
		request, _ := a.fields.request() // of an empty command line an error is as good
		if request == nil {
			continue
		}
		text, err := json.Marshal(request)
		require.NoError(t, err)
		var sent map[string]any
		require.NoError(t, json.Unmarshal(text, &sent))
		assert.Subset(t, takes, slices.Collect(maps.Keys(sent)), a.verb)
	}
	for path, p := range api.Paths {
		assert.True(t, p.Post == nil || done[path], "no act does POST %s", path)
	}
}

// A table of commands is read more often than it is written.
func TestEachActHasItsHelp(t *testing.T) {
	for _, a := range append(slices.Clone(acts), addition) {
		assert.True(t, strings.HasSuffix(a.help, "."), "%s: %s", a.verb, a.help)
		assert.Contains(t, a.more, "benchtide ", a.verb)
		assert.NotEmpty(t, a.group, a.verb)
	}
}

// Two command lines of one table have nothing to do with each other.
func TestEachCommandHasFieldsOfItsOwn(t *testing.T) {
	a := &act{verb: "flood", fields: &floodFields{}}
	one, other := a.command().Do.(acting), a.command().Do.(acting)
	one.Fields.(*floodFields).Hold = "4 min"
	assert.Empty(t, other.Fields.(*floodFields).Hold)
}
