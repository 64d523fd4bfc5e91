// Package page is what a person sees of the site in a browser: one page that
// asks the API of package web and draws what it is told. The files under static
// are served as they are, without a build step, and ask nothing of any other
// host.
//
// It is made for an old phone: no script newer than ECMAScript 2017, and what a
// first look loads stays below 60 KB. A service worker keeps the files, so that
// the page opens with the controller gone and shows the last picture as an old
// one.
package page

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

//go:embed static
var static embed.FS

// policy lets the page load its own files and talk to its own host, nothing
// else: no script or style inside the markup runs.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// kinds are the media types of the files, which must not hang on what the
// machine knows of extensions.
var kinds = map[string]string{
	".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8",
	".svg": "image/svg+xml", ".webmanifest": "application/manifest+json",
}

type file struct {
	kind, tag string
	data      []byte
}

// Handler serves the page at / and its files beside it. Anything else is not
// found.
func Handler() http.Handler {
	files := read()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f, ok := files[r.URL.Path]
		switch {
		case !ok:
			http.NotFound(w, r)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "method not allowed", http.StatusMethodNotAllowed)
		default:
			f.serve(w, r)
		}
	})
}

func read() map[string]file {
	names, err := fs.Glob(static, "static/*")
	if err != nil { // the pattern is sound
		panic(err)
	}
	files := map[string]file{}
	for _, name := range names {
		data, err := static.ReadFile(name)
		if err != nil { // it was embedded
			panic(err)
		}
		files["/"+path.Base(name)] = newFile(path.Ext(name), data)
	}
	files["/"] = files["/index.html"]
	delete(files, "/index.html") // one address for one page
	return files
}

func newFile(extension string, data []byte) file {
	data = lean(data)
	sum := sha256.Sum256(data)
	return file{kind: kinds[extension], tag: `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`, data: data}
}

// lean leaves indents and lines of comment out, which are a sixth of the files
// and tell a browser nothing. No text in them spans lines.
func lean(data []byte) []byte {
	var b strings.Builder
	for line := range strings.Lines(string(data)) {
		if line = strings.TrimLeft(line, " "); line != "\n" && !strings.HasPrefix(line, "//") {
			b.WriteString(line)
		}
	}
	return []byte(b.String())
}

// serve answers with the file, or with 304 to whom has it already.
func (f file) serve(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-cache") // ask whether it changed; the answer is a few bytes
	h.Set("ETag", f.tag)
	if r.Header.Get("If-None-Match") == f.tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", f.kind)
	_, _ = w.Write(f.data) // a reader that has gone cannot be told of it
}
