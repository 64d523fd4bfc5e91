package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
	"benchtide/controller/web"
)

// staged is a site whose batch is in the stage that it was advanced to last.
type staged struct{ *fakeSite }

func (s *staged) Advance(_ context.Context, _ int, fromDay *int) (int, error) {
	s.shown.Batches = []live.BatchStatus{{Name: "basil", Bench: "north", Stage: fromDay}}
	return *fromDay, nil
}

func TestTheWayBackFromAStageLeadsToTheOneBefore(t *testing.T) {
	was, shown := 10, well()
	shown.Batches[0].Stage = &was
	api := web.New(web.Options{Site: &staged{&fakeSite{shown: &shown}}, Zone: time.UTC, Facts: live.Facts{Batches: []live.BatchFacts{{Name: "basil"}}}})
	t.Cleanup(api.Close)
	r := &rig{t: t, api: api}
	w := r.request("POST", "/advance", `{"stage_from_day":24}`)
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	assert.JSONEq(t, `{"act":"advance","body":{"batch":"basil","stage_from_day":10},"words":"go back to the stage from day 10"}`, undoOf(t, w))
}

func undoOf(t *testing.T, w *httptest.ResponseRecorder) string {
	var done struct{ Undo json.RawMessage }
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &done))
	return string(done.Undo)
}
