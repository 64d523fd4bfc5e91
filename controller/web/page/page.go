// Package page is what a person sees of the site in a browser: one page that
// asks the API of package web and draws what it is told. The files under static
// need no build step and ask nothing of any other host. What is served says the
// same in fewer bytes.
//
// It is made for an old phone: no script newer than ECMAScript 2017, and what a
// first look loads stays below 25 KB on the wire. A service worker keeps the files, so that
// the page opens with the controller gone and shows the last snapshot as an old
// one.
package page

import (
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"sync"

	"github.com/tdewolff/minify/v2"
	"github.com/tdewolff/minify/v2/css"
	"github.com/tdewolff/minify/v2/js"

	"benchtide/controller/web/packed"
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
	packed    []byte // the same for who takes gzip
}

// Handler serves the page at / and its files beside it. Anything else is not
// found.
func Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f, ok := files()[r.URL.Path]
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

// files are made ready when the first is asked for: the start of the program has
// better things to do.
var files = sync.OnceValue(read)

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
	data = lean(extension, data)
	sum := sha256.Sum256(data)
	return file{kind: kinds[extension], tag: `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`, data: data, packed: packed.Of(data, gzip.BestCompression)}
}

// lean leaves out what tells a browser nothing: a quarter of what a phone would
// load. The script stays one of ECMAScript 2017.
func lean(extension string, data []byte) []byte {
	m := minify.New()
	m.Add(".css", &css.Minifier{})
	m.Add(".js", &js.Minifier{Version: 2017})
	short, err := m.Bytes(extension, data)
	if err != nil { // of a kind that is short already
		return data
	}
	return short
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
	h.Set("Vary", "Accept-Encoding")
	if r.Header.Get("If-None-Match") == f.tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", f.kind)
	data := f.data
	if packed.Taken(r) {
		h.Set("Content-Encoding", "gzip")
		data = f.packed
	}
	h.Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data) // a reader that has gone cannot be told of it
}
