//go:build editortest

package editortest

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net/textproto"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// server is the language server on its standard input and output (Language Server
// Protocol 3.17, base protocol).
type server struct {
	t    *testing.T
	in   io.Writer
	said chan message
	last int
}

type message struct {
	ID     *int            `json:"id"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
	Error  json.RawMessage `json:"error"`
}

// answerWithin is ample for a busy machine; a second is usual.
const answerWithin = time.Minute

func start(t *testing.T) *server {
	command := exec.Command(os.Getenv("NODE"), os.Getenv("SERVER"), "--stdio")
	command.Stderr = os.Stderr
	in, err := command.StdinPipe()
	require.NoError(t, err)
	out, err := command.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, command.Start(), "the script run sets what is needed")
	s := &server{t: t, in: in, said: make(chan message)}
	go s.hear(out)
	t.Cleanup(func() {
		_ = command.Process.Kill() // it has nothing to save
		for range s.said {         // until it is silent
		}
		_ = command.Wait() // killed
	})
	s.ask("initialize", map[string]any{"processId": os.Getpid(), "rootUri": nil, "capabilities": map[string]any{}})
	s.tell("initialized", map[string]any{})
	s.tell("workspace/didChangeConfiguration", map[string]any{"settings": map[string]any{
		"yaml": map[string]any{"validate": true, "schemaStore": map[string]any{"enable": false}},
	}})
	return s
}

func (s *server) hear(out io.Reader) {
	defer close(s.said)
	r := bufio.NewReader(out)
	for {
		head, err := textproto.NewReader(r).ReadMIMEHeader()
		if err != nil {
			return
		}
		n, err := strconv.Atoi(head.Get("Content-Length"))
		if err != nil {
			return
		}
		body := make([]byte, n)
		if _, err := io.ReadFull(r, body); err != nil {
			return
		}
		var m message
		if json.Unmarshal(body, &m) == nil {
			s.said <- m
		}
	}
}

func (s *server) send(m map[string]any) {
	s.t.Helper()
	m["jsonrpc"] = "2.0"
	b, err := json.Marshal(m)
	require.NoError(s.t, err)
	_, err = fmt.Fprintf(s.in, "Content-Length: %d\r\n\r\n%s", len(b), b)
	require.NoError(s.t, err)
}

func (s *server) tell(method string, params any) {
	s.t.Helper()
	s.send(map[string]any{"method": method, "params": params})
}

func (s *server) ask(method string, params any) {
	s.t.Helper()
	s.last++
	s.send(map[string]any{"id": s.last, "method": method, "params": params})
	s.until(method, func(m message) bool { return m.Method == "" && m.ID != nil && *m.ID == s.last })
}

func (s *server) until(what string, found func(message) bool) message {
	s.t.Helper()
	late := time.After(answerWithin)
	for {
		select {
		case m, ok := <-s.said:
			require.True(s.t, ok, "the server ended before it answered %s", what)
			if found(m) {
				require.Empty(s.t, m.Error, what)
				return m
			}
		case <-late:
			require.FailNow(s.t, "no answer to "+what)
		}
	}
}

// found is what an editor underlines.
type found struct {
	Range struct {
		Start struct{ Line int }
	}
	Message string
}

// judge has the server judge a file, and returns what it says by line, from 1.
func (s *server) judge(uri, text string) map[int][]string {
	s.t.Helper()
	s.tell("textDocument/didOpen", map[string]any{"textDocument": map[string]any{
		"uri": uri, "languageId": "yaml", "version": 1, "text": text,
	}})
	said := map[int][]string{}
	m := s.until(uri, func(m message) bool {
		var about struct{ URI string }
		return m.Method == "textDocument/publishDiagnostics" && json.Unmarshal(m.Params, &about) == nil && about.URI == uri
	})
	var all struct{ Diagnostics []found }
	require.NoError(s.t, json.Unmarshal(m.Params, &all))
	for _, f := range all.Diagnostics {
		said[f.Range.Start.Line+1] = append(said[f.Range.Start.Line+1], f.Message)
	}
	return said
}
