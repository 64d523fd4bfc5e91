package page_test

import (
	"compress/gzip"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/web/page"
)

func get(path string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for _, f := range change {
		f(r)
	}
	w := httptest.NewRecorder()
	page.Handler().ServeHTTP(w, r)
	return w
}

func TestEveryFileIsServedWithItsTypeAndTheStrictPolicy(t *testing.T) {
	files, err := fs.Glob(os.DirFS("static"), "*")
	require.NoError(t, err)
	for _, name := range append(files, "") {
		if name == "index.html" {
			continue
		}
		w := get("/" + name)
		assert.Equal(t, http.StatusOK, w.Code, name)
		assert.NotEmpty(t, w.Header().Get("Content-Type"), name)
		policy := w.Header().Get("Content-Security-Policy")
		assert.Contains(t, policy, "default-src 'none'", name)
		assert.NotContains(t, policy, "unsafe", name)
	}
	assert.Equal(t, http.StatusNotFound, get("/page.go").Code)
	assert.Equal(t, http.StatusNotFound, get("/index.html").Code, "one page has one address")
}

func TestAFileThatTheBrowserHasIsNotSentAgain(t *testing.T) {
	tag := get("/").Header().Get("ETag")
	require.NotEmpty(t, tag)
	w := get("/", func(r *http.Request) { r.Header.Set("If-None-Match", tag) })
	assert.Equal(t, http.StatusNotModified, w.Code)
	assert.Zero(t, w.Body.Len())
}

func TestThePageTakesNothingButQuestions(t *testing.T) {
	w := get("/", func(r *http.Request) { r.Method = http.MethodPost })
	assert.Equal(t, http.StatusMethodNotAllowed, w.Code)
}

func TestAFileSaysTheSameInFewerBytes(t *testing.T) {
	for _, name := range []string{"page.css", "board.js", "sw.js"} {
		written, err := os.ReadFile("static/" + name)
		require.NoError(t, err)
		assert.Less(t, get("/"+name).Body.Len(), len(written)*9/10, name)
	}
}

// A script or style in the markup would be refused by the policy, and a file
// from elsewhere would be missing where there is no network.
func TestThePageIsWholeByItself(t *testing.T) {
	inline := regexp.MustCompile(`(?i)<script(?:[^>]*)>[^<]|<style|\son\w+=|\sstyle=`)
	elsewhere := regexp.MustCompile(`https?://`)
	files, err := fs.Glob(os.DirFS("static"), "*")
	require.NoError(t, err)
	for _, name := range files {
		data, err := os.ReadFile("static/" + name)
		require.NoError(t, err)
		text := strings.ReplaceAll(string(data), "http://www.w3.org/2000/svg", "")
		assert.NotRegexp(t, elsewhere, text, name)
		if strings.HasSuffix(name, ".html") {
			assert.NotRegexp(t, inline, text, name)
		}
		assert.NotRegexp(t, `innerHTML|insertAdjacentHTML|document\.write|eval\(`, text, name)
	}
}

// The page opens without the controller only when the service worker keeps
// every file that it is made of.
func TestTheServiceWorkerKeepsEveryFileOfThePage(t *testing.T) {
	worker, err := os.ReadFile("static/sw.js")
	require.NoError(t, err)
	files, err := fs.Glob(os.DirFS("static"), "*.[jcs]*")
	require.NoError(t, err)
	for _, name := range files {
		if name != "sw.js" {
			assert.Contains(t, string(worker), "'"+name+"'")
		}
	}
}

func TestWhoTakesGzipGetsTheSameInFewerBytes(t *testing.T) {
	plain := get("/board.js")
	small := get("/board.js", func(r *http.Request) { r.Header.Set("Accept-Encoding", "br, gzip") })
	assert.Equal(t, "gzip", small.Header().Get("Content-Encoding"))
	assert.Equal(t, "Accept-Encoding", plain.Header().Get("Vary"))
	assert.Empty(t, plain.Header().Get("Content-Encoding"))
	assert.Less(t, small.Body.Len(), plain.Body.Len()/2)
	z, err := gzip.NewReader(small.Body)
	require.NoError(t, err)
	back, err := io.ReadAll(z)
	require.NoError(t, err)
	assert.Equal(t, plain.Body.String(), string(back))
}
