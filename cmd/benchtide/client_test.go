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
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
)

// asking are command lines that talk to a running daemon, by command.
func asking(dir string) map[string][]string {
	return map[string][]string{
		"Status":      {"status"},
		"Flood":       {"flood", "north", "--hold", "4 min", "--proof"},
		"Stop":        {"stop", "north"},
		"Skip":        {"skip", "north"},
		"UndoSkip":    {"undo-skip", "north"},
		"Pause":       {"pause", "--until", "12 h"},
		"Resume":      {"resume"},
		"HandsIn":     {"hands-in", "on"},
		"Sanitise":    {"sanitise", "north"},
		"Rinsed":      {"rinsed", "north"},
		"TookOut":     {"took-out", "tank", "--litres", "22 L", "--by", "Kim"},
		"ToppedUp":    {"topped-up", "no", "tank"},
		"Advance":     {"advance", "basil"},
		"Close":       {"close", "basil"},
		"Empty":       {"empty", "north"},
		"Reset":       {"reset", "north", "--found", "a leaf"},
		"Drop":        {"drop", "north", "--found", "taken down"},
		"Alarms":      {"alarms"},
		"Acknowledge": {"acknowledge", "all"},
		"Shelve":      {"shelve", "7", "--until", "2 h"},
		"Service":     {"service", "out", "7", "--by", "Kim"},
		"TestMessage": {"test-message"},
		"Confirm":     {"confirm", "123456"},
		"History":     {"history"},
		"Diary.Add":   {"diary", "add", "--note", "all well"},
		"Diary.List":  {"diary", "list"},
		"Export":      {"export"},
		"Backup":      {"backup", filepath.Join(dir, "copy.db")},
		"Outlook":     {"outlook"},
	}
}

// talkers lists the commands that have a daemon's address among their flags.
func talkers(t reflect.Type, prefix string) (names []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		if _, command := f.Tag.Lookup("cmd"); !command {
			continue
		}
		if hasAddress(f.Type) {
			names = append(names, prefix+f.Name)
		}
		names = append(names, talkers(f.Type, prefix+f.Name+".")...)
	}
	return names
}

func hasAddress(t reflect.Type) bool {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous && (f.Type == reflect.TypeFor[ask.Daemon]() || hasAddress(f.Type)) {
			return true
		}
	}
	return false
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
	all := talkers(reflect.TypeFor[commands](), "")
	all = slices.DeleteFunc(all, func(name string) bool { return name == "Away" || name == "Calendar" }) // ask with status, ledger, diary and export
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
