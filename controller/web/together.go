package web

import (
	"bytes"
	"context"
	"maps"
	"net/http"
	"sync"
)

// together has one answer made for all who ask the same at once: whoever comes
// while one is being made shares the next with all others who came meanwhile. So
// no answer is older than its question, and any number of askers keep no more than
// one goroutine busy, which leaves the processor to the turns of the loop.
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
}

// Together serves every GET of h once for all who ask with the same headers of
// these names. What h writes is kept until it is whole.
func Together(h http.Handler, names ...string) http.Handler {
	t := newTogether(func(w http.ResponseWriter, r *http.Request) error {
		h.ServeHTTP(w, r)
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
	a := t.join(r, key)
	select {
	case <-a.made:
	case <-r.Context().Done():
		return context.Cause(r.Context())
	}
	if a.panicked != nil {
		panic(a.panicked)
	}
	if a.err != nil {
		return a.err
	}
	maps.Copy(w.Header(), a.header)
	w.WriteHeader(a.status)
	_, _ = w.Write(a.body.Bytes()) // an asker that has gone
	return nil
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

// run makes answers until nobody waits for one.
func (t *together) run(k *rounds, key string) {
	for {
		t.mu.Lock()
		a := k.next
		k.next = nil
		if a == nil {
			delete(t.rounds, key)
			t.mu.Unlock()
			return
		}
		t.mu.Unlock()
		t.fill(a)
	}
}

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
