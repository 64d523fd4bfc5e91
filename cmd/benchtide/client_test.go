package main

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
)

// asking are command lines that talk to a running daemon, by command.
func asking(dir string) map[string][]string {
	return map[string][]string{
		"status":       {"status"},
		"flood":        {"flood", "north", "--hold", "4 min", "--proof"},
		"stop":         {"stop", "north"},
		"skip":         {"skip", "north"},
		"undo-skip":    {"undo-skip", "north"},
		"pause":        {"pause", "--until", "12 h"},
		"resume":       {"resume"},
		"hands-in":     {"hands-in", "on"},
		"sanitise":     {"sanitise", "north"},
		"rinsed":       {"rinsed", "north"},
		"took-out":     {"took-out", "tank", "--litres", "22 L", "--by", "Kim"},
		"topped-up":    {"topped-up", "no", "tank"},
		"advance":      {"advance", "basil"},
		"close":        {"close", "basil"},
		"empty":        {"empty", "north"},
		"reset":        {"reset", "north", "--found", "a leaf"},
		"drop":         {"drop", "north", "--found", "taken down"},
		"alarms":       {"alarms"},
		"acknowledge":  {"acknowledge", "all"},
		"shelve":       {"shelve", "7", "--until", "2 h"},
		"service":      {"service", "out", "7", "--by", "Kim"},
		"test-message": {"test-message"},
		"confirm":      {"confirm", "123456"},
		"history":      {"history"},
		"diary add":    {"diary", "add", "--note", "all well"},
		"diary list":   {"diary", "list"},
		"export":       {"export"},
		"backup":       {"backup", filepath.Join(dir, "copy.db")},
		"outlook":      {"outlook"},
	}
}

// talkers lists the commands that have a daemon's address among their flags.
func talkers() (names []string) {
	for _, leaf := range leaves() {
		if slices.ContainsFunc(leaf.Flags, func(f *kong.Flag) bool { return f.Name == "address" }) {
			names = append(names, leaf.Path())
		}
	}
	return names
}

// leaves are the commands that have none beneath them.
func leaves() []*kong.Node {
	return kong.Must(cli.Grammar(commands()), kong.ExplicitGroups(cli.Groups)).Model.Leaves(true)
}

// operations are those of the API, as it describes itself.
func operations(t *testing.T) (all []string) {
	data, err := os.ReadFile("../../controller/web/openapi.json")
	require.NoError(t, err)
	var described struct{ Paths map[string]map[string]any }
	require.NoError(t, json.Unmarshal(data, &described))
	for path, methods := range described.Paths {
		for method := range methods {
			all = append(all, strings.ToUpper(method)+" /api/v1"+path)
		}
	}
	return all
}

const siteToken = "tJ4rZ0cV7yQm2nXb8sLw"

func TestCommandsAndTheAPICanDoTheSame(t *testing.T) {
	reached := map[string]bool{}
	token := ""
	daemon := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reached[r.Method+" "+r.URL.Path] = true
		token = r.Header.Get("Authorization")
		_, _ = w.Write([]byte(`{"done":"it is"}`))
	}))
	defer daemon.Close()
	lines := asking(t.TempDir())
	all := talkers()
	all = slices.DeleteFunc(all, func(name string) bool { return name == "away" || name == "calendar" }) // ask with status, ledger, diary and export
	assert.ElementsMatch(t, all, slices.Collect(maps.Keys(lines)), "each command that talks to a daemon is tried")
	key := filepath.Join(t.TempDir(), "token")
	require.NoError(t, os.WriteFile(key, []byte(siteToken), 0o600))
	for name, args := range lines {
		var out, err bytes.Buffer
		args = append(args, "--address", daemon.URL, "--token-file", key)
		require.Equal(t, cli.ExitFine, run(context.Background(), args, nil, &out, &err), "%s: %s", name, &err)
		assert.Equal(t, "Bearer "+siteToken, token, name)
	}
	described := operations(t)
	for operation := range reached {
		assert.Contains(t, described, operation)
	}
	for _, operation := range described {
		if !strings.HasPrefix(operation, "GET ") && !strings.HasSuffix(operation, "/session") {
			assert.True(t, reached[operation], "no command does %s", operation)
		}
	}
}

func TestARefusalOfTheDaemonSaysWhatToDoOnTheCommandLine(t *testing.T) {
	for answer, says := range map[string]string{
		`{"status":401,"detail":"this address needs the site's token"}`:                         "give --token-file FILE",
		`{"status":409,"detail":"make sure that nobody works in the bench","needs":"proof"}`:    "--proof",
		`{"status":409,"detail":"flood north: min-rest: the pump rests; it may pass at 12:30"}`: "it may pass at 12:30",
		`<html>`: "is that a benchtide?",
	} {
		daemon := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(http.StatusConflict)
			_, _ = w.Write([]byte(answer))
		}))
		var out, err bytes.Buffer
		assert.Equal(t, cli.ExitNo, run(context.Background(), []string{"flood", "north", "--address", daemon.URL}, nil, &out, &err))
		assert.Contains(t, err.String(), says)
		daemon.Close()
	}
}

func TestAnActWithoutAnAnswerIsNotKnownOnTheCommandLine(t *testing.T) {
	cut := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }))
	defer cut.Close()
	torn := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte(`{"done":`)) }))
	defer torn.Close()
	gone := httptest.NewServer(http.NotFoundHandler())
	gone.Close()
	const reachIn, look = "not known whether it stopped: switch the supply off, dry-handed, before you reach in", "not known whether it was done"
	for _, c := range []struct {
		at   string
		act  []string
		says string
	}{
		{cut.URL, []string{"stop", "north"}, reachIn}, {torn.URL, []string{"stop", "north"}, reachIn}, {gone.URL, []string{"stop", "north"}, "no daemon answers"},
		{cut.URL, []string{"hands-in", "on"}, reachIn}, {cut.URL, []string{"flood", "north"}, look}, {torn.URL, []string{"reset", "north", "--found", "a leaf"}, look},
		{gone.URL, []string{"flood", "north"}, "no daemon answers"}, {cut.URL, []string{"status"}, "no answer from the daemon"},
	} {
		var out, err bytes.Buffer
		assert.Equal(t, cli.ExitNo, run(context.Background(), append(c.act, "--address", c.at), nil, &out, &err))
		assert.Contains(t, err.String(), c.says, c.act)
	}
}
