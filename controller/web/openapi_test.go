package web_test

import (
	"encoding/json"
	"maps"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/web"
)

// description is openapi.json as it is served.
type description struct {
	t        *testing.T
	doc      map[string]any
	compiler *jsonschema.Compiler
}

func served(t *testing.T) *description {
	w := newRig(t).request("GET", "/openapi.json", "")
	require.Equal(t, http.StatusOK, w.Code)
	doc, err := jsonschema.UnmarshalJSON(w.Body)
	require.NoError(t, err)
	d := &description{t: t, doc: doc.(map[string]any), compiler: jsonschema.NewCompiler()}
	require.NoError(t, d.compiler.AddResource("openapi.json", doc))
	return d
}

func (d *description) operations() (all []string) {
	for path, item := range d.doc["paths"].(map[string]any) {
		for method := range item.(map[string]any) {
			all = append(all, strings.ToUpper(method)+" "+path)
		}
	}
	slices.Sort(all)
	return all
}

// fits holds an answer to the description of its operation and status.
func (d *description) fits(method, path, kind string, code int, body []byte) {
	d.t.Helper()
	escaped := strings.NewReplacer("~", "~0", "/", "~1")
	at := "openapi.json#/paths/" + escaped.Replace(path) + "/" + strings.ToLower(method) + "/responses/" + strconv.Itoa(code)
	if code != http.StatusOK {
		at = "openapi.json#/components/responses/Problem"
	}
	schema, err := d.compiler.Compile(at + "/content/" + escaped.Replace(kind) + "/schema")
	require.NoError(d.t, err, "%s %s answers %d %s, which is not described", method, path, code, kind)
	var v any = string(body)
	if strings.HasSuffix(kind, "json") {
		v, err = jsonschema.UnmarshalJSON(strings.NewReader(string(body)))
		require.NoError(d.t, err)
	}
	assert.NoError(d.t, schema.Validate(v), "%s %s: %s", method, path, body)
}

func TestEveryRouteIsDescribedAndNothingElse(t *testing.T) {
	assert.Equal(t, web.Routes(newRig(t).api), served(t).operations())
}

// Of answers only what people call things, and when they sowed, may be left out.
func TestEverySchemaIsSound(t *testing.T) {
	d := served(t)
	for name, s := range d.doc["components"].(map[string]any)["schemas"].(map[string]any) {
		_, err := d.compiler.Compile("openapi.json#/components/schemas/" + name)
		assert.NoError(t, err, name)
		if name == "Problem" || name == "Titles" || strings.HasSuffix(name, "Request") {
			continue
		}
		required, _ := s.(map[string]any)["required"].([]any)
		properties, _ := s.(map[string]any)["properties"].(map[string]any)
		for p := range properties {
			assert.True(t, slices.Contains(required, any(p)) || slices.Contains([]string{"title", "titles", "plan_title", "sown"}, p), "%s: let %s be required", name, p)
		}
	}
}

func TestEveryAnswerIsAsDescribed(t *testing.T) {
	d := served(t)
	requests := map[string][]string{ // bodies, or queries of GET; the first is fine
		"GET /status": {""}, "GET /benches": {""}, "GET /openapi.json": {""}, "GET /backup": {"", "?x=1"},
		"GET /ledger":        {"?bench=north&since=7%20d&limit=5", "?bench=nord", "?limit=0"},
		"GET /trips":         {"?since=2026-03-01", "?since=soon"},
		"GET /calendar":      {"?from=2026-03-01&days=3", "?from=March", "?days=4000"},
		"GET /series":        {"?since=30%20d", "?span=3", "?limit=3"},
		"GET /overview":      {"", "?x=1"},
		"GET /session":       {"", "?x=1"},
		"GET /outlook":       {"?days=3", "?days=61"},
		"GET /diary":         {"?bench=tank", "?place=tank"},
		"GET /export":        {"?table=floods&format=csv", "?table=fish"},
		"POST /flood":        {`{"bench":"north","hold_s":240}`, `{}`, `{"bench":"nord"}`, `{"bench":"north","hold_s":-1}`},
		"POST /stop":         {`{"bench":"north"}`, `{"bench":1}`},
		"POST /pause":        {`{"until":"12 h"}`, `{"until":""}`},
		"POST /resume":       {`{"bench":"south"}`, `nothing`},
		"POST /hands-in":     {`{"on":true}`, `{}`},
		"POST /reset":        {`{"bench":"south","found":"a leaf"}`, `{"bench":"south","found":" "}`},
		"POST /drop":         {`{"bench":"east","found":"taken down"}`, `{"found":"taken down"}`, `{"bench":"east"}`},
		"POST /skip-next":    {`{"bench":"north"}`, `{"bench":"north"}{}`, `{"bench":"north","slot":"15:00"}`},
		"POST /undo-skip":    {`{"bench":"north","slot":"2026-03-12T15:00:00+00:00"}`, `{}`, `{"bench":"north","slot":"soon"}`},
		"POST /sanitise":     {`{"bench":"north","by":"Kim"}`, `{"bench":"nord"}`},
		"POST /took-out":     {`{"reservoir":"tank","litres":22,"by":"Kim"}`, `{"reservoir":"north"}`},
		"POST /topped-up":    {`{"reservoir":"tank","poured":true}`, `{"reservoir":"tank"}`},
		"POST /rinsed":       {`{"bench":"north"}`, `{}`},
		"POST /advance":      {`{"batch":"basil","stage_from_day":10}`, `{"batch":"mint"}`},
		"POST /close":        {`{"batch":"basil","last_day":"2026-05-30"}`, `{"last_day":"May"}`},
		"POST /empty":        {`{"bench":"south"}`, `{"bench":""}`},
		"GET /alarms":        {"", "?x=1"},
		"POST /acknowledge":  {`{"alarm":7,"by":"Kim"}`, `{"alarm":-1}`, `{"id":7}`},
		"POST /shelve":       {`{"alarm":7,"until":"2 h"}`, `{"alarm":7,"until":"soon"}`, `{"until":"2 h"}`, `{"alarm":7,"until":"2026-03-01"}`},
		"POST /service":      {`{"alarm":7,"out":true,"by":"Kim"}`, `{"out":true}`},
		"POST /test-message": {`{}`, `{"to":"me"}`},
		"POST /confirm":      {`{"code":"123456"}`, `{}`},
		"POST /diary":        {`{"kind":"note","text":"all well"}`, `{"kind":"note","place":"shed"}`, `{}`},
	}
	elsewhere := []string{"GET /events", "POST /session", "DELETE /session"}
	missing := slices.DeleteFunc(served(t).operations(), func(o string) bool { return requests[o] != nil || slices.Contains(elsewhere, o) })
	require.Empty(t, missing, "not asked for here")
	for _, operation := range slices.Sorted(maps.Keys(requests)) {
		method, path, _ := strings.Cut(operation, " ")
		for i, with := range requests[operation] {
			query, body := with, ""
			if method == http.MethodPost {
				query, body = "", with
			}
			w := newRig(t).request(method, path+query, body)
			want := http.StatusBadRequest
			if i == 0 {
				want = http.StatusOK
			}
			assert.Equal(t, want, w.Code, "%s %s: %s", operation, with, w.Body)
			kind, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";")
			d.fits(method, path, kind, w.Code, w.Body.Bytes())
		}
	}
}

func TestEveryRequestIsReadAsDescribed(t *testing.T) {
	d := served(t)
	schemas := d.doc["components"].(map[string]any)["schemas"].(map[string]any)
	for _, request := range []any{
		web.FloodRequest{}, web.BenchRequest{}, web.PauseRequest{}, web.HandsInRequest{}, web.ResetRequest{}, web.DiaryRequest{},
		web.SanitiseRequest{}, web.AdvanceRequest{}, web.CloseRequest{},
		web.AcknowledgeRequest{}, web.ShelveRequest{}, web.ServiceRequest{}, web.TestRequest{}, web.ConfirmRequest{},
	} {
		data, err := json.Marshal(request)
		require.NoError(t, err)
		var keys map[string]any
		require.NoError(t, json.Unmarshal(data, &keys))
		name := reflect.TypeOf(request).Name()
		described := schemas[name].(map[string]any)["properties"].(map[string]any)
		assert.ElementsMatch(t, slices.Collect(maps.Keys(keys)), slices.Collect(maps.Keys(described)), name)
	}
}
