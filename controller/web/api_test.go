package web_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/web"
	"benchtide/safety"
)

func problem(t *testing.T, w *httptest.ResponseRecorder) (p web.Problem) {
	t.Helper()
	require.Equal(t, "application/problem+json", w.Header().Get("Content-Type"), w.Body.String())
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &p))
	assert.Equal(t, w.Code, p.Status)
	return p
}

func TestStatusSaysWhatIsTheCase(t *testing.T) {
	var st live.Status
	require.NoError(t, json.Unmarshal(newRig(t).request("GET", "/status", "").Body.Bytes(), &st))
	north, south := st.Benches[0], st.Benches[1]
	assert.Equal(t, "holding", north.Phase)
	assert.Equal(t, "standing", north.Water)
	assert.Equal(t, 183.0, *north.Flood.FillS)
	assert.Equal(t, "min-rest", north.Refusal.Interlock)
	assert.Equal(t, "2026-03-12T13:00:00+00:00", *north.Refusal.Until, "an hour of the boot-time clock from now")
	assert.Nil(t, south.Flood)
	assert.Nil(t, south.Next)
	assert.Equal(t, "2026-03-12T12:01:00+00:00", *south.PausedUntil)
	assert.Equal(t, "2026-03-12T11:50:00+00:00", *st.Benches[0].PhaseSince, "it holds for ten minutes")
	assert.Equal(t, []live.LatchedTrip{{At: "2026-03-12T11:30:00+00:00", Interlock: "high-level", Words: "Water too high", Detail: "HIGH was made", Remedy: controller.Remedy(safety.HighLevel, "")}}, south.Latched)
	stage, due, last := 10, 20, "2026-05-30"
	assert.Equal(t, live.BatchStatus{
		Name: "basil", Bench: "south", SinceS: 10800.1, CanWaitS: 108000, LimitS: 108000, LimitBy: "stage", Ratio: 0.1, Stage: &stage, Due: &due, Closed: &last,
	}, st.Batches[0])
	assert.Equal(t, "2026-03-12T11:00:00+00:00", *south.Sanitising)
}

func TestActsReachTheSite(t *testing.T) {
	for _, c := range []struct{ path, body, want string }{
		{"/flood", `{"bench":"south","hold_s":90}`, "flood 1 1m30s"},
		{"/flood", `{"bench":"north"}`, "flood 0 0s"},
		{"/stop", `{"bench":"north"}`, "stop 0"},
		{"/pause", `{"bench":"south","until":"2026-03-13 08:00","by":"Kim"}`, "pause [1] until 2026-03-13T08:00:00+00:00 by Kim"},
		{"/pause", `{"until":"2 h"}`, "pause [0 1] until 2026-03-12T14:00:00+00:00 by "},
		{"/resume", `{}`, "resume [1]"}, // of the two the one that is paused
		{"/hands-in", `{"on":false}`, "hands-in false"},
		{"/reset", `{"bench":"south","found":"a leaf"}`, "reset 1 a leaf"},
		{"/drop", `{"bench":"east","found":"taken down"}`, "drop east taken down"},
		{"/skip-next", `{"bench":"north"}`, "skip 0 1970-01-01T00:00"},
		{"/skip-next", `{"bench":"south","slot":"2026-07-12T15:00:00+01:00"}`, "skip 1 2026-07-12T15:00"},
		{"/undo-skip", `{"bench":"north"}`, "undo skip 0 1970-01-01T00:00"},
		{"/undo-skip", `{"bench":"north","slot":"2026-03-29T01:30:00+00:00"}`, "undo skip 0 2026-03-29T01:30"},
		{"/sanitise", `{"bench":"north","by":"Kim"}`, "sanitise 0 by Kim"},
		{"/rinsed", `{"bench":"south"}`, "rinsed 1 by "},
		{"/took-out", `{"litres":22.4,"by":"Kim"}`, "took out of 0: 22.4 by Kim"},
		{"/took-out", `{"reservoir":"tank"}`, "took out of 0: 0 by "},
		{"/topped-up", `{"reservoir":"tank","poured":false}`, "topped up 0: false 0 by "},
		{"/advance", `{}`, "advance 0"},
		{"/advance", `{"batch":"basil","stage_from_day":0}`, "advance 0 to 0"},
		{"/close", `{"batch":"basil"}`, "close 0 on 2026-03-11"},
		{"/close", `{"batch":"basil","last_day":"2026-05-30"}`, "close 0 on 2026-05-30"},
		{"/close", `{"batch":"basil","reopen":true}`, "close 0 on 1970-01-01"},
		{"/empty", `{"bench":"south"}`, "empty 1"},
	} {
		r := newRig(t)
		w := r.request("POST", c.path, c.body)
		assert.Equal(t, http.StatusOK, w.Code, w.Body.String())
		assert.Equal(t, c.want, strings.Join(r.site.acts, ","))
	}
}

func TestARefusalGivesItsReason(t *testing.T) {
	r := newRig(t)
	r.site.err = live.Refused{Interlock: "min-rest", Reason: "flood north: min-rest: the pump rests", Until: noon.Add(time.Minute)}
	w := r.request("POST", "/flood", `{"bench":"north"}`)
	assert.Equal(t, http.StatusConflict, w.Code)
	p := problem(t, w)
	assert.Equal(t, "min-rest", p.Interlock)
	assert.Equal(t, "flood north: min-rest: the pump rests", p.Detail)
	assert.Equal(t, "2026-03-12T12:01:00+00:00", *p.Until)
}

func TestASilentLoopAndStorageThatFailsAreUnavailable(t *testing.T) {
	r := newRig(t)
	r.record.err = errStorage
	for _, path := range []string{"/ledger", "/trips", "/diary", "/series", "/backup"} {
		w := r.request("GET", path, "")
		assert.Equal(t, http.StatusServiceUnavailable, w.Code, path)
		assert.Contains(t, problem(t, w).Detail, "no space left")
	}
	assert.Equal(t, http.StatusServiceUnavailable, r.request("POST", "/diary", `{"kind":"note"}`).Code)
	assert.PanicsWithValue(t, http.ErrAbortHandler, func() { r.request("GET", "/export", "") }, "a part is not to be taken for the whole")
	r.site.silence(fmt.Errorf("%w: no turn", live.ErrUnavailable))
	for _, path := range []string{"/status", "/events", "/calendar", "/ledger?since=1%20d"} {
		assert.Equal(t, http.StatusServiceUnavailable, r.request("GET", path, "").Code, path)
	}
}

// loopActs are acts that the loop takes, with what their askers read when it does
// not answer: after it never happened, and after nobody knows.
var loopActs = []struct{ path, body, notDone, notKnown string }{
	{"/stop", `{"bench":"north"}`, "not stopped, since the controller does not answer: switch the supply off, dry-handed, before you reach in", "not known whether it stopped: switch the supply off, dry-handed, before you reach in"},
	{"/hands-in", `{"on":true}`, "not stopped, since the controller does not answer: switch the supply off, dry-handed, before you reach in", "not known whether it stopped: switch the supply off, dry-handed, before you reach in"},
	{"/pause", `{"until":"12 h"}`, "planned floods go on", "not known whether planned floods are off"},
	{"/sanitise", `{"bench":"north"}`, "planned floods go on", "not known whether planned floods are off"},
	{"/hands-in", `{"on":false}`, "not done", "not known whether it was done"},
	{"/flood", `{"bench":"north"}`, "not done", "not known whether it was done"},
	{"/resume", `{"bench":"south"}`, "not done", "not known whether it was done"},
	{"/reset", `{"bench":"south","found":"a leaf"}`, "not done", "not known whether it was done"},
	{"/skip-next", `{"bench":"north"}`, "planned floods go on", "not known whether planned floods are off"},
	{"/drop", `{"bench":"gone","found":"taken down"}`, "not done", "not known whether it was done"},
	{"/undo-skip", `{"bench":"north"}`, "not done", "not known whether it was done"},
	{"/rinsed", `{"bench":"north"}`, "not done", "not known whether it was done"},
	{"/took-out", `{}`, "say it again later", "it is booked once"},
	{"/topped-up", `{"poured":true}`, "say it again later", "it is booked once"},
	{"/advance", `{"batch":"basil"}`, "not done", "not known whether it was done"},
	{"/close", `{"batch":"basil"}`, "planned floods go on", "not known whether planned floods are off"},
	{"/empty", `{"bench":"south"}`, "planned floods go on", "not known whether planned floods are off"},
}

// beside are the acts that the loop does not take: none of them starts water or
// keeps it off.
var beside = map[string]string{
	"session":      "the gate's",
	"diary":        "the record's",
	"acknowledge":  "the messages'",
	"shelve":       "the messages'",
	"service":      "the messages'",
	"test-message": "the messages'",
	"confirm":      "the messages'",
}

func TestEveryActIsAmongThoseWhoseAnswerIsTried(t *testing.T) {
	tried := map[string]bool{}
	for _, c := range loopActs {
		tried[c.path[1:]] = true
	}
	for path, methods := range served(t).doc["paths"].(map[string]any) {
		_, act := methods.(map[string]any)["post"]
		assert.Equal(t, act, tried[path[1:]] || beside[path[1:]] != "", "%s: say in loopActs what its asker reads, or in beside why the loop does not take it", path)
	}
}

func TestAnUnansweredActSaysWhatIsKnownOfIt(t *testing.T) {
	described := served(t).doc["paths"].(map[string]any)
	for _, c := range loopActs {
		r := newRig(t)
		r.site.err = fmt.Errorf("%w: the loop has stopped", live.ErrUnavailable)
		w := r.request("POST", c.path, c.body)
		assert.Equal(t, http.StatusServiceUnavailable, w.Code, c.path)
		assert.Contains(t, problem(t, w).Detail, c.notDone, c.path)
		r.site.err = fmt.Errorf("%w: a context", live.ErrNotKnown)
		w = r.request("POST", c.path, c.body)
		assert.Equal(t, http.StatusGatewayTimeout, w.Code, c.path)
		assert.Contains(t, problem(t, w).Detail, c.notKnown, c.path)
		assert.Contains(t, described[c.path].(map[string]any)["post"].(map[string]any)["responses"], "504")
	}
}

func TestHandsInIsSaidToBeDoneWhenTheSnapshotIsLate(t *testing.T) {
	r := newRig(t)
	r.site.silence(live.ErrUnavailable)
	assert.Equal(t, http.StatusOK, r.request("POST", "/hands-in", `{"on":true}`).Code)
	assert.Equal(t, []string{"hands-in true"}, r.site.acts)
}

func TestActsOfOtherSitesPagesAreRefused(t *testing.T) {
	header := func(key, value string) func(*http.Request) {
		return func(q *http.Request) { q.Header.Set(key, value) }
	}
	for name, c := range map[string]struct {
		change func(*http.Request)
		code   int
		says   string
	}{
		"a form":                        {header("Content-Type", "application/x-www-form-urlencoded"), 400, "application/json"},
		"a form of plain text":          {header("Content-Type", "text/plain"), 400, "application/json"},
		"without the header":            {func(q *http.Request) { q.Header.Del("X-Benchtide") }, 403, "X-Benchtide: act"},
		"from another origin":           {header("Origin", "https://elsewhere.example"), 403, "own page"},
		"from another port":             {header("Origin", "http://127.0.0.1:80"), 403, "own page"},
		"cross-site by the browser":     {header("Sec-Fetch-Site", "cross-site"), 403, "own page"},
		"under a name that points here": {func(q *http.Request) { q.Host = "elsewhere.example:8347" }, 421, "127.0.0.1"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			w := r.request("POST", "/flood", `{"bench":"north"}`, c.change)
			assert.Equal(t, c.code, w.Code)
			assert.Contains(t, problem(t, w).Detail, c.says)
			assert.Empty(t, r.site.acts)
		})
	}
	for _, host := range []string{"localhost:8347", "[::1]:8347", "[::1]", "192.0.2.7"} {
		w := newRig(t).request("POST", "/flood", `{"bench":"north"}`, func(q *http.Request) { q.Host = host }, header("Origin", "http://"+host))
		assert.Equal(t, http.StatusOK, w.Code, "%s: %s", host, w.Body)
	}
}

func TestWhatIsWrongWithARequestIsSaid(t *testing.T) {
	for _, c := range []struct {
		method, path, body string
		code               int
		says               string
	}{
		{"GET", "/fish", "", 404, `there is no "/api/v1/fish"`},
		{"GET", "/flood", "", 405, "takes POST"},
		{"DELETE", "/diary", "", 405, "takes GET, POST"},
		{"POST", "/flood", `{"benhc":"north"}`, 400, `unknown field "benhc": the object has the keys bench, hold_s`},
		{"POST", "/flood", `{"bench":["north"]}`, 400, `"bench" has to be a string`},
		{"POST", "/flood", `{"hold_s":"4 min"}`, 400, `"hold_s" has to be a number`},
		{"POST", "/hands-in", `{"on":"yes"}`, 400, `"on" has to be true or false`},
		{"POST", "/flood", `[]`, 400, "the body has to be an object with the keys bench, hold_s"},
		{"POST", "/flood", `{"bench":}`, 400, "no JSON at byte 10"},
		{"POST", "/flood", ``, 400, "the keys bench, hold_s"},
		{"POST", "/flood", `{"bench":"north"} true`, 400, "goes on after its object"},
		{"POST", "/flood", `{}`, 400, "say which one of north, south"},
		{"POST", "/flood", `{"bench":"` + strings.Repeat("n", 20_000) + `"}`, 413, "too large"},
		{"POST", "/pause", `{"until":"soon"}`, 400, `until: "soon": write a date as`},
		{"GET", "/ledger?bech=north", "", 400, "bech: there is no such parameter here; there are bench, since, limit"},
		{"GET", "/ledger?limit=many", "", 400, `limit: "many": write a whole number from 1 to 50000`},
	} {
		w := newRig(t).request(c.method, c.path, c.body)
		assert.Equal(t, c.code, w.Code, "%s %s %s", c.method, c.path, c.body)
		assert.Contains(t, problem(t, w).Detail, c.says)
	}
}

func TestTimesAreReadAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]string{
		"2026-03-01":                "2026-03-01T00:00:00Z",
		"2026-03-01 08:30":          "2026-03-01T08:30:00Z",
		"2026-03-01T08:30":          "2026-03-01T08:30:00Z",
		"2026-03-01T08:30:00+01:00": "2026-03-01T07:30:00Z",
		"30d":                       "2026-02-10T12:00:00Z",
		"1 h 30 min":                "2026-03-12T10:30:00Z",
	} {
		r := newRig(t)
		w := r.request("GET", "/ledger", "", func(q *http.Request) {
			q.URL.RawQuery = "since=" + strings.NewReplacer(" ", "%20", "+", "%2B").Replace(text)
		})
		require.Equal(t, http.StatusOK, w.Code, w.Body.String())
		assert.Equal(t, want, r.record.asked.Since.UTC().Format(time.RFC3339), text)
	}
}

func TestADiaryEntryIsOfNowUnlessItSays(t *testing.T) {
	r := newRig(t)
	r.request("POST", "/diary", `{"kind":"top-up","value":20,"place":"tank"}`)
	r.request("POST", "/diary", `{"kind":"note","text":"late","at":"2 h"}`)
	r.request("POST", "/diary", `{"kind":"lost","value":3,"place":"basil","sure":true}`)
	require.Len(t, r.record.notes, 3)
	assert.True(t, r.record.notes[2].Sure)
	assert.Equal(t, "basil", r.record.notes[2].Place)
	twenty := 20.0
	assert.Equal(t, live.Note{At: noon, Place: "tank", Kind: "top-up", Value: &twenty, Now: noon}, withUTC(r.record.notes[0]))
	assert.Equal(t, noon.Add(-2*time.Hour), r.record.notes[1].At.UTC())
	assert.Equal(t, noon, r.record.notes[1].Now.UTC(), "it was written now, whatever it is about")
}

func TestWhatIsHardToBelieveIsAskedAbout(t *testing.T) {
	r := newRig(t)
	r.record.err = live.Refused{Reason: "EC rose.", Questions: []string{"Was it solution?", "Is the meter right?"}}
	w := r.request("POST", "/diary", `{"kind":"ec","value":2}`)
	assert.Equal(t, http.StatusConflict, w.Code)
	assert.Equal(t, []string{"Was it solution?", "Is the meter right?"}, problem(t, w).Questions)
}

func withUTC(n live.Note) live.Note {
	n.At, n.Now = n.At.UTC(), n.Now.UTC()
	return n
}

// listen opens an event stream and returns its lines.
func listen(t *testing.T, url string) *bufio.Scanner {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	t.Cleanup(cancel)
	q, err := http.NewRequestWithContext(ctx, "GET", url+"/api/v1/events", nil)
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(q)
	require.NoError(t, err)
	t.Cleanup(func() { _ = response.Body.Close() })
	require.Equal(t, "text/event-stream", response.Header.Get("Content-Type"))
	lines := bufio.NewScanner(response.Body)
	lines.Buffer(nil, 1<<20)
	return lines
}

func next(t *testing.T, lines *bufio.Scanner) (kind, data string) {
	t.Helper()
	for lines.Scan() {
		if k, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
			kind = k
		}
		if d, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
			return kind, d
		}
	}
	return "end", ""
}

func TestAStreamBeginsWithTheSnapshotAndGoesOnWithEvents(t *testing.T) {
	r := newRig(t)
	server := httptest.NewServer(r.api)
	defer server.Close()
	lines := listen(t, server.URL)
	kind, data := next(t, lines)
	assert.Equal(t, "status", kind)
	assert.Contains(t, data, `"phase":"holding"`)
	r.api.Publish(live.Event{Kind: "full made", Bench: "north", Text: "FULL made"})
	kind, data = next(t, lines)
	assert.Equal(t, "event", kind)
	assert.JSONEq(t, `{"at":"","kind":"full made","level":"","bench":"north","text":"FULL made"}`, data)
	kind, _ = next(t, lines)
	assert.Equal(t, "status", kind, "a snapshot follows events")
	r.api.Close()
	kind, _ = next(t, lines)
	assert.Equal(t, "end", kind)
	late := r.request("GET", "/events", "")
	assert.Equal(t, http.StatusServiceUnavailable, late.Code, "nobody joins after the end")
	assert.Contains(t, problem(t, late).Detail, "being stopped")
	assert.NotContains(t, problem(t, late).Detail, "too many")
}

// stuck is a client that takes its first message and never another.
type stuck struct {
	*httptest.ResponseRecorder
	first, release chan struct{}
	n              int
}

func (s *stuck) Write(p []byte) (int, error) {
	if s.n++; s.n == 1 {
		close(s.first)
		return len(p), nil
	}
	<-s.release
	return len(p), nil
}

func TestAsManyClientsListenAsAreAllowed(t *testing.T) {
	r := newRig(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	joined := make(chan struct{})
	for range web.MostClients {
		w := &stuck{ResponseRecorder: httptest.NewRecorder(), first: make(chan struct{}), release: make(chan struct{})}
		close(w.release)
		go func() { r.api.ServeHTTP(w, httptest.NewRequest("GET", "/api/v1/events", nil).WithContext(ctx)) }()
		go func() { <-w.first; joined <- struct{}{} }()
	}
	for range web.MostClients {
		<-joined
	}
	w := r.request("GET", "/events", "")
	assert.Equal(t, http.StatusServiceUnavailable, w.Code)
	assert.Contains(t, problem(t, w).Detail, "too many are listening")
	assert.NotContains(t, problem(t, w).Detail, "does not answer")
}

func FuzzNoRequestIsAServersFault(f *testing.F) {
	r := newRig(f)
	operations := slices.DeleteFunc(web.Routes(r.api), func(o string) bool { return o == "GET /events" }) // which goes on for ever
	for i := range operations {
		for _, body := range []string{
			`{"bench":"north","hold_s":1e308}`, `{"bench":null}`, `{"until":"9999999999 d"}`, `{"until":"2026-03-12T12:00:00Z"}`, `[]`, `null`, `"`,
			`{"on":null}`, `{"found":"\u0000"}`, `{"kind":"ec","value":-1e999}`, `{"at":"99999-01-01"}`, "\xff\xfe", `{"bench":"north","bench":"south"}`,
			`{"batch":"basil","stage_from_day":-1e9}`, `{"last_day":"0000-00-00"}`,
		} {
			f.Add(uint8(i), "", body)
		}
		for _, query := range []string{"since=-1%20d", "since=9999999999%20d&limit=1", "from=9999-12-31&days=3653", "from=0000-01-01", "days=60", "table=%00", "bench=%ff", "%zz"} {
			f.Add(uint8(i), query, "{}")
		}
	}
	f.Fuzz(func(t *testing.T, operation uint8, query, body string) {
		method, path, _ := strings.Cut(operations[int(operation)%len(operations)], " ")
		w := r.request(method, path, body, func(q *http.Request) { q.URL.RawQuery = query })
		if w.Code >= 500 {
			t.Fatalf("%s %s?%q %q: %d %s", method, path, query, body, w.Code, w.Body)
		}
		r.site.acts = nil
		r.record.notes = nil
	})
}
