//go:build pagetest

package pagetest

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/live"
	"benchtide/controller/web/page"
)

// violation is what axe-core finds against WCAG 2.2 A and AA, or its own best
// practice.
type violation struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

const judge = `axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }).then(r => JSON.stringify(r.violations))`

// accessible has axe look at what is shown, and looks itself for what axe does
// not measure: nothing wider than the screen, nothing to tap below 44 px.
func (b *tab) accessible(where string) {
	b.t.Helper()
	defer b.tall()() // what a bar lies over is scrolled free
	var all []violation
	require.NoError(b.t, json.Unmarshal([]byte(asks[string](b, judge)), &all))
	for _, v := range all {
		for _, n := range v.Nodes {
			b.t.Errorf("%s: %s: %s\n%s\n%s", where, v.ID, v.Help, n.HTML, n.Summary)
		}
	}
	assert.LessOrEqual(b.t, asks[float64](b, `document.documentElement.scrollWidth - innerWidth`), 0.0, "%s: it is wider than the screen", where)
	assert.Empty(b.t, asks[[]string](b, `[...document.querySelectorAll('a:not(.skip), button, input, select, summary')].filter(e => e.offsetParent)
		.filter(e => { const r = e.getBoundingClientRect(); return r.height < 44 || r.width < 44 }).map(e => e.outerHTML)`), "%s: too small to tap", where)
	assert.Empty(b.t, asks[[]string](b, `[...document.querySelectorAll('.section text, .chart text')].filter(e => e.getBoundingClientRect().height < 11).map(e => e.textContent)`), "%s: too small to read", where)
}

func axe(t *testing.T) string {
	t.Helper()
	source, err := os.ReadFile(filepath.Join(os.Getenv("NODE_MODULES"), "axe-core", "axe.min.js"))
	require.NoError(t, err)
	return string(source)
}

var states = map[string]func(*live.Status){
	"calm": func(*live.Status) {}, "filling": filling, "holding": holding, "tripped": tripped, "hands-in": handsIn,
	"paused": paused, "sanitising": sanitising, "thirsty": thirsty, "cleared": cleared,
}

func TestNothingKeepsAnybodyOutOfAnyView(t *testing.T) {
	source := axe(t)
	for s, shown := range map[screen][]string{small: slices.Collect(maps.Keys(states)), night: slices.Collect(maps.Keys(states)), desktop: {"calm", "tripped"}} {
		t.Run(s.name, func(t *testing.T) {
			b := newTab(t, s)
			views := 0
			for _, name := range shown {
				state := states[name]
				site := staged(t, state)
				b.open(site.url)
				b.live()
				b.until(`!!document.querySelector('svg.section')`)
				asks[any](b, source+`;0`)
				b.accessible(s.name + ", " + name)
				b.picture(fmt.Sprintf("%s-%d%s", name, s.width, map[bool]string{true: "-dark"}[s.dark]), true)
				views++
			}
			for _, view := range []string{"record", "diary"} {
				asks[bool](b, fmt.Sprintf(`location.hash = '#%s', true`, view))
				b.until(map[string]string{"record": `document.querySelectorAll('.chart').length === 3`, "diary": `/Written lately/.test(document.body.textContent) && !!document.querySelector('.list li')`}[view])
				asks[bool](b, `document.querySelectorAll('details').forEach(d => d.open = true), true`)
				b.accessible(s.name + ", " + view)
				views++
				asks[bool](b, `document.querySelectorAll('details').forEach(d => d.open = false), true`)
				b.picture(fmt.Sprintf("%s-%d%s", view, s.width, map[bool]string{true: "-dark"}[s.dark]), true)
			}
			t.Logf("%s: axe looked at %d views", s.name, views)
		})
	}
}

// Every form that an act opens is a view too.
func TestNothingKeepsAnybodyOutOfAnyPanel(t *testing.T) {
	source := axe(t)
	for _, s := range []screen{small, night} {
		b := newTab(t, s)
		for hash, state := range map[string]func(*live.Status){"#now": tripped, "#diary": sanitising} {
			site := staged(t, state)
			b.open(site.url + hash)
			b.live()
			asks[any](b, source+`;0`)
			b.until(`document.querySelectorAll('.actions button').length > 4`)
			for _, words := range asks[[]string](b, `[...document.querySelectorAll('.actions > .buttons > button')].filter(e => e.offsetParent).map(e => e.textContent)`) {
				b.presses(words)
				b.accessible(s.name + ", form " + words)
				b.presses(words)
			}
		}
		b.open("about:blank")
	}
}

// At twice the size of letters a phone shows everything still.
func TestLettersMayBeTwiceAsLarge(t *testing.T) {
	source := axe(t)
	site := staged(t, tripped)
	b := newTab(t, screen{"200 %", 640, 900, false})
	b.open(site.url)
	b.live()
	b.until(`!!document.querySelector('svg.section')`)
	asks[bool](b, `document.documentElement.style.fontSize = '200%', true`)
	asks[any](b, source+`;0`)
	b.accessible("200 %")
	b.picture("double", true)
}

// The script that is served is none that a phone of 2017 could not read.
func TestTheScriptIsOldEnough(t *testing.T) {
	files, err := filepath.Glob("../../controller/web/page/static/*.js")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	acorn := filepath.Join(os.Getenv("NODE_MODULES"), ".bin", "acorn")
	for _, f := range files {
		args := []string{acorn, "--ecma2017", "--silent"}
		if filepath.Base(f) != "sw.js" {
			args = append(args, "--module")
		}
		w := httptest.NewRecorder()
		page.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/"+filepath.Base(f), nil))
		c := exec.Command("node", args...)
		c.Stdin = w.Body
		out, err := c.CombinedOutput()
		assert.NoError(t, err, "%s: %s", f, out)
	}
}
