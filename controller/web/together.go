package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"maps"
	"net/http"
	"sync"
	"time"

	"benchtide/controller/web/packed"
)

// together has one answer made for all who ask the same at once: whoever comes
// while one is being made shares the next with all others who came meanwhile. So
// no answer is older than its question. Any number of askers keep no more than one
// goroutine busy, which rests after each answer: most of its processor is left to
// the turns of the loop.
type together struct {
	make func(http.ResponseWriter, *http.Request) error

	mu     sync.Mutex
	rounds map[string]*rounds // by what makes two questions the same
}

// rounds are the answers to one question.
type rounds struct {
	making bool
	next   *answer // nil while nobody waits for one that is not begun
}

// answer is one that is shared; nobody changes it once it is made.
type answer struct {
	ask  *http.Request // of whoever asked first
	made chan struct{} // closed when it is

	header   http.Header
	status   int
	body     bytes.Buffer
	err      error
	panicked any

	once   sync.Once
	packed []byte // the body for who takes gzip, made when the first of them asks
}

// worthwhile is the least size of a body that is packed: a smaller one goes in one
// packet as it is.
const worthwhile = 1400

// Together serves every GET of h once for all who ask with the same headers of
// these names. What h writes is kept until it is whole. h computes alone, in a
// place of the API's, and waits for nothing.
func (a *API) Together(h http.Handler, names ...string) http.Handler {
	t := newTogether(func(w http.ResponseWriter, r *http.Request) error {
		a.seats.take(func() { h.ServeHTTP(w, r) })
		return nil
	})
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		key := ""
		for _, n := range names {
			key += r.Header.Get(n) + "\n"
		}
		_ = t.serve(w, r, key) // h has written what there is to say
	})
}

func newTogether(h handler) *together { return &together{make: h, rounds: map[string]*rounds{}} }

// plain serves questions without parameters, which are all the same.
func (t *together) plain(w http.ResponseWriter, r *http.Request) error { return t.serve(w, r, "") }

// serve answers from what is made for all. A question with parameters, or for the
// head alone, is answered by itself.
func (t *together) serve(w http.ResponseWriter, r *http.Request, key string) error {
	if r.Method != http.MethodGet || r.URL.RawQuery != "" {
		return t.make(w, r)
	}
	a, err := t.answer(r, key)
	if err != nil {
		return err
	}
	maps.Copy(w.Header(), a.header)
	body := a.bodyFor(w, r)
	w.WriteHeader(a.status)
	_, _ = w.Write(body) // an asker that has gone
	return nil
}

// bodyFor is the body in the form that who asks takes, of which the header tells.
func (a *answer) bodyFor(w http.ResponseWriter, r *http.Request) []byte {
	if a.header.Get("Content-Encoding") != "" || a.body.Len() < worthwhile {
		return a.body.Bytes()
	}
	w.Header().Add("Vary", "Accept-Encoding")
	if !packed.Taken(r) {
		return a.body.Bytes()
	}
	a.once.Do(func() { a.packed = packed.Of(a.body.Bytes(), gzip.DefaultCompression) })
	w.Header().Set("Content-Encoding", "gzip")
	w.Header().Del("Content-Length")
	return a.packed
}

// answer waits for what is made for all.
func (t *together) answer(r *http.Request, key string) (*answer, error) {
	a := t.join(r, key)
	select {
	case <-a.made:
	case <-r.Context().Done():
		return nil, context.Cause(r.Context())
	}
	if a.panicked != nil {
		panic(a.panicked)
	}
	return a, a.err
}

// join is the answer that is begun next.
func (t *together) join(r *http.Request, key string) *answer {
	t.mu.Lock()
	defer t.mu.Unlock()
	k := t.rounds[key]
	if k == nil {
		k = &rounds{}
		t.rounds[key] = k
	}
	if k.next == nil {
		k.next = &answer{ask: r.Clone(context.WithoutCancel(r.Context())), made: make(chan struct{}), header: http.Header{}, status: http.StatusOK}
	}
	a := k.next
	if !k.making {
		k.making = true
		go t.run(k, key)
	}
	return a
}

// run makes the answer that is waited for, rests, and does so until nobody waits.
func (t *together) run(k *rounds, key string) {
	t.mu.Lock()
	a := k.next
	k.next = nil
	if a == nil {
		delete(t.rounds, key)
	}
	t.mu.Unlock()
	if a == nil {
		return
	}
	begun := time.Now()
	t.fill(a)
	time.AfterFunc(min(restTimes*time.Since(begun), longestRest), func() { t.run(k, key) })
}

// A rest is so many times as long as the making took, and no longer than that: to
// wait for storage is no work.
const (
	restTimes   = 9
	longestRest = 100 * time.Millisecond
)

// fill makes an answer. A panic is that of everybody who asked.
func (t *together) fill(a *answer) {
	defer close(a.made)
	defer func() { a.panicked = recover() }()
	a.err = t.make(a, a.ask)
}

// Header, WriteHeader and Write have an answer taken down.
func (a *answer) Header() http.Header         { return a.header }
func (a *answer) WriteHeader(status int)      { a.status = status }
func (a *answer) Write(b []byte) (int, error) { return a.body.Write(b) }
