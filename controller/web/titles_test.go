package web_test

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
	"benchtide/controller/texts"
	"benchtide/controller/web"
)

// entitled is the rig's site with titles.
func entitled(t *testing.T) *rig {
	r := &rig{t: t, site: &fakeSite{skipped: noon.Add(3 * time.Hour)}, record: &fakeRecord{}}
	var called texts.Titles
	texts.Entitle(&called.Benches, "north", "Nordtisch")
	texts.Entitle(&called.Reservoirs, "tank", "北の水槽")
	texts.Entitle(&called.Batches, "basil", "الريحان")
	texts.Entitle(&called.Plans, "herbs", "Kräuter")
	st, n := busy(), names()
	n.Titles = called
	shown := live.StatusOf(&st, &n)
	r.site.shown = &shown
	r.api = web.New(web.Options{Site: r.site, Record: r.record, Messages: &fakeMessages{site: r.site}, Zone: time.UTC, Facts: live.Facts{
		Site: "greenhouse", Timezone: "UTC", Version: "1", Called: called,
		Benches:    []live.BenchFacts{{Name: "north", Title: "Nordtisch", Reservoir: "tank"}, {Name: "south", Reservoir: "tank"}},
		Reservoirs: []live.ReservoirFacts{{Name: "tank", Title: "北の水槽"}},
		Batches:    []live.BatchFacts{{Name: "basil", Title: "الريحان", Bench: "south", Plan: "herbs", PlanTitle: "Kräuter", Transplanted: "2026-03-02"}},
	}})
	t.Cleanup(r.api.Close)
	return r
}

func TestTitlesStandBesideTheNames(t *testing.T) {
	r, d := entitled(t), served(t)
	answers := map[string]string{}
	for _, path := range []string{"/status", "/benches", "/ledger", "/diary"} {
		w := r.request(http.MethodGet, path, "")
		require.Equal(t, http.StatusOK, w.Code, "%s", w.Body)
		d.fits(http.MethodGet, path, "application/json", w.Code, w.Body.Bytes())
		answers[path] = w.Body.String()
	}
	var st live.Status
	require.NoError(t, json.Unmarshal([]byte(answers["/status"]), &st))
	assert.Equal(t, "north", st.Benches[0].Name)
	assert.Equal(t, "Nordtisch", st.Benches[0].Title)
	assert.Empty(t, st.Benches[1].Title)
	assert.Equal(t, "الريحان", st.Titles().Batch("basil"))
	assert.Contains(t, answers["/ledger"], `"titles":{"benches":{"north":"Nordtisch"}`)
	assert.Contains(t, answers["/benches"], `"plan_title":"Kräuter"`)
	assert.NotContains(t, newRig(t).request(http.MethodGet, "/ledger", "").Body.String(), "titles")
}

func TestWhoGivesATitleGetsTheName(t *testing.T) {
	for _, c := range []struct{ method, path, body, says string }{
		{http.MethodPost, "/stop", `{"bench":"nordtisch"}`, `bench: there is no "nordtisch"; its name is north`},
		{http.MethodPost, "/close", `{"batch":"الريحان"}`, `batch: there is no "الريحان"; its name is basil`},
		{http.MethodPost, "/took-out", `{"reservoir":"北の水槽"}`, `reservoir: there is no "北の水槽"; its name is tank`},
		{http.MethodPost, "/diary", `{"kind":"note","place":"Nordtisch","text":"x"}`, `place: there is no "Nordtisch"; its name is north`},
		{http.MethodGet, "/ledger?bench=Nordtisch", "", `bench: there is no "Nordtisch"; its name is north`},
		{http.MethodPost, "/stop", `{"bench":"Kräuter"}`, `bench: there is no "Kräuter"; there are north, south`},
	} {
		w := entitled(t).request(c.method, c.path, c.body)
		assert.Equal(t, http.StatusBadRequest, w.Code, c.path)
		var p struct{ Detail string }
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &p))
		assert.Equal(t, c.says, p.Detail)
	}
	assert.Contains(t, entitled(t).request(http.MethodPost, "/stop", `{"bench":"north"}`).Body.String(), "Nordtisch: the flood is stopped")
}
