package web_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNoTextOfARequestHasALineBreakOrIsEndless(t *testing.T) {
	d, r := served(t), newRig(t)
	tried := 0
	for path, item := range d.doc["paths"].(map[string]any) {
		post, ok := item.(map[string]any)["post"].(map[string]any)
		if !ok || post["requestBody"] == nil {
			continue
		}
		ref := post["requestBody"].(map[string]any)["content"].(map[string]any)["application/json"].(map[string]any)["schema"].(map[string]any)["$ref"].(string)
		schema := d.doc["components"].(map[string]any)["schemas"].(map[string]any)[strings.TrimPrefix(ref, "#/components/schemas/")].(map[string]any)
		for key, about := range schema["properties"].(map[string]any) {
			if about.(map[string]any)["type"] != "string" {
				continue
			}
			for _, bad := range []string{"a\nlevel=ERROR", "a\r\nBcc: all@example.org", "\x1b[2J", "\x00", "a\u202eb", strings.Repeat("x", 5000)} {
				body, err := json.Marshal(map[string]string{key: bad})
				require.NoError(t, err)
				w := r.request("POST", path, string(body))
				require.Equal(t, http.StatusBadRequest, w.Code, "%s %s", path, body)
				assert.True(t, strings.HasPrefix(problem(t, w).Detail, key+": it has "), "%s: %s", path, problem(t, w).Detail)
				tried++
			}
		}
	}
	assert.Greater(t, tried, 100)
	assert.Empty(t, r.site.acts)
	assert.Empty(t, r.record.notes)
	assert.Equal(t, http.StatusOK, r.request("POST", "/reset", `{"bench":"north","found":"`+strings.Repeat("ü", 2000)+`"}`).Code)
}
