package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// arrow says what one package may import beside the standard library.
type arrow struct {
	from    string
	house   []string // packages of this module
	outside []string // other modules, by how their paths begin
	because string
}

var arrows = []arrow{
	{from: "safety", because: "the guard is read line by line: all that can change what it does is in it"},
	{from: "schedule", outside: []string{"github.com/robfig/cron/"}, because: "slots are computed from dates alone; only the cron parser is not our own"},
	{from: "schedule/demand", house: []string{"schedule"}, because: "water demand is formulae on dates and weather, beside their sources"},
	{from: "hw/hydraulics", because: "formulae stand by themselves beside their sources"},
	{from: "controller/texts", outside: []string{"golang.org/x/text/width"}, because: "which texts of people are taken is the same in the file and by the API"},
	{from: "controller/texts/plain", because: "tests of every surface judge texts by the same measure"},
	{from: "controller/chart", because: "a picture is made of numbers and words, whatever they mean"},
	{from: "controller/quantity", because: "units and their text need nothing"},
	{from: "controller/solution", house: []string{"controller/quantity"}, because: "mixing is arithmetic on quantities"},
	{from: "controller/grow", house: []string{"controller/texts", "controller/quantity", "controller/solution", "schedule", "schedule/demand"}, because: "what plants need is worked out from dates, weather and what a person wrote down; it changes nothing"},
	{from: "controller/grow/outlook", house: []string{"controller", "controller/config", "controller/grow", "schedule", "schedule/demand"}, because: "an outlook is worked out from the file and from what is on record, whether the site runs or not"},
	{from: "hw", house: []string{"safety"}, outside: []string{"golang.org/x/sys/"}, because: "the seam speaks in the guard's types, and asks the kernel for the time"},
	{from: "hw/lines", because: "how a line is written is the same in the file and on the board"},
	{from: "hw/gpio", house: []string{"hw", "hw/lines", "safety"}, outside: []string{"periph.io/", "golang.org/x/sys/"}, because: "the wired board is the only one that knows a GPIO library, and knows nothing of floods"},
	{from: "hw/sim", house: []string{"hw", "hw/hydraulics", "hw/sim/nature", "safety", "schedule/demand"}, because: "the simulated bench has its own truth: nothing that estimates may share it, nor it theirs"},
	{from: "hw/sim/nature", because: "what the simulated world draws is data; whoever estimates and knew it would agree with itself"},
	{from: "hw/sim/realtime", house: []string{"hw/sim", "safety"}, because: "a simulated bench that keeps real time is one all the same"},
	{from: "controller", house: []string{"controller/texts", "controller/quantity", "safety", "schedule"}, because: "the flood cycle is pure: no board, no file, no storage"},
	{from: "controller/sheet", house: []string{"controller/quantity", "hw/hydraulics", "safety", "schedule"}, because: "a bench sheet is worked out from the file's numbers alone"},
	{from: "controller/config", house: []string{"controller/config/address", "controller/texts", "controller/quantity", "controller/sheet", "hw/lines", "safety", "schedule", "schedule/demand"}, outside: []string{"go.yaml.in/yaml/"}, because: "the file says what a site is, not how it is run"},
	{from: "controller/config/reference", house: []string{"controller/config", "controller/quantity", "controller/texts"}, because: "what is said of the file's keys is made from their descriptions alone"},
	{from: "controller/loop", house: []string{"controller", "hw", "safety"}, because: "the loop declares the ledger and the sinks it needs, and knows none of them"},
	{from: "controller/commission", house: []string{"controller", "controller/config", "controller/loop", "controller/quantity", "controller/sheet", "controller/texts", "hw", "safety", "schedule"}, because: "commissioning talks to a person between the turns of a loop; what it measures it may not read from a simulation, and it keeps nothing itself"},
	{from: "controller/ledger", house: []string{"controller", "controller/loop", "controller/notify/outbox", "safety", "schedule"}, outside: []string{"modernc.org/sqlite", "github.com/gofrs/flock"}, because: "storage hears of floods; nothing of a flood waits for storage"},
	{from: "controller/metrics", house: []string{"controller", "controller/loop", "safety"}, outside: []string{"github.com/prometheus/client_golang/", "github.com/prometheus/client_model/"}, because: "metrics are told of turns and touch nothing"},
	{from: "controller/config/address", because: "which addresses others could read along is the same wherever one is written"},
	{from: "controller/notify/alarm", house: []string{"controller", "controller/quantity", "controller/texts", "safety", "schedule"}, because: "who is told what, and when, is decided without files and networks"},
	{from: "controller/notify/outbox", because: "what waits to be told is data: those who decide on it and those who keep it need nothing of each other"},
	{from: "controller/notify", house: []string{"controller", "controller/loop", "controller/config/address", "controller/notify/alarm", "controller/notify/outbox", "safety"}, outside: []string{"github.com/wneessen/go-mail", "github.com/eclipse/paho.mqtt.golang", "github.com/prometheus/client_golang/"}, because: "messages leave the house here; the loop is heard and never asked to wait"},
	{from: "controller/web/packed", because: "how an answer is made small hangs on nothing that it says"},
	{from: "controller/web/crowd", because: "what connections may cost hangs on nothing of the site"},
	{from: "controller/live", house: []string{"controller", "controller/config", "controller/grow", "controller/grow/outlook", "controller/ledger", "controller/loop", "controller/notify", "controller/notify/alarm", "controller/notify/outbox", "controller/quantity", "controller/texts", "safety", "schedule", "schedule/demand"}, because: "the running site is seen here from outside; it reads what loop, ledger and messages tell, and opens none of them"},
	{from: "controller/web", house: []string{"controller", "controller/live", "controller/quantity", "controller/texts", "controller/web/crowd", "controller/web/packed", "schedule"}, outside: []string{"golang.org/x/time/"}, because: "the API passes on what the running site shows; how the loop and storage answer is not its business"},
	{from: "controller/web/page", house: []string{"controller/web/packed"}, outside: []string{"github.com/tdewolff/minify/"}, because: "the page is files; what it shows it asks of the API like any other client"},
	{from: "controller/drift", house: []string{"controller", "controller/loop", "safety"}, because: "what changes slowly is found from the floods and the windows that it is given; of the guard it has how a time is spelt"},
	{from: "controller/rehearse", house: []string{"controller/texts", "controller", "controller/config", "controller/drift", "controller/grow", "controller/grow/outlook", "controller/loop", "controller/quantity", "controller/sheet", "hw", "hw/hydraulics", "hw/sim", "safety", "schedule", "schedule/demand"}, outside: []string{"go.yaml.in/yaml/"}, because: "a rehearsal is the program on a simulated bench, without database and metrics"},
	{from: "controller/rehearse/campaign", house: []string{"controller", "controller/config", "controller/drift", "controller/rehearse", "safety", "schedule"}, because: "a campaign draws files and judges reports; the bench and the program are those of every rehearsal"},
	{from: "controller/rehearse/score", house: []string{"controller", "controller/chart", "controller/config", "controller/grow", "controller/grow/outlook", "controller/rehearse", "controller/rehearse/campaign", "controller/sheet", "safety", "schedule", "schedule/demand"}, because: "a score holds what the program states against what a rehearsal's judge saw; of the simulated bench itself it knows nothing"},
	{from: "cmd/benchtide/cli", house: []string{"controller/config", "controller/metrics", "schedule"}, outside: []string{"github.com/alecthomas/kong", "golang.org/x/term"}, because: "what every command stands on knows none of them"},
	{from: "cmd/benchtide/ask", house: []string{"cmd/benchtide/cli", "controller/web"}, because: "a daemon is asked in the same way for whatever it is asked"},
	{from: "cmd/benchtide/client", house: []string{"cmd/benchtide/ask", "cmd/benchtide/cli", "controller/ledger", "controller/live", "controller/quantity", "controller/solution", "controller/texts", "controller/web"}, because: "a command that asks a daemon has no bench of its own: no board, no loop, no simulation"},
	{from: "cmd/benchtide/offline", house: []string{"controller/texts", "cmd/benchtide/ask", "cmd/benchtide/cli", "controller", "controller/chart", "controller/config", "controller/config/reference", "controller/grow", "controller/grow/outlook", "controller/ledger", "controller/live", "controller/metrics", "controller/quantity", "controller/rehearse", "controller/rehearse/campaign", "controller/rehearse/score", "controller/rehearse/season", "controller/solution", "controller/web", "hw/sim", "schedule", "schedule/demand"}, outside: []string{"github.com/arran4/golang-ical"}, because: "what is answered from a file switches nothing: it has no board"},
	{from: "cmd/benchtide/onsite", house: []string{"controller", "controller/commission", "controller/config", "controller/ledger", "controller/live", "controller/loop", "hw/gpio", "safety"}, because: "wiring and record are the same for the daemon and for whoever works beside it"},
	{from: "cmd/benchtide/bench", house: []string{"cmd/benchtide/cli", "cmd/benchtide/onsite", "controller/commission", "controller/config", "controller/ledger", "controller/live", "controller/loop", "controller/quantity", "controller/rehearse", "hw", "hw/gpio", "hw/lines", "hw/sim", "hw/sim/realtime", "safety"}, because: "whoever works beside the bench needs no daemon, and asks none"},
	{from: "cmd/benchtide/daemon", house: []string{"cmd/benchtide/cli", "cmd/benchtide/onsite", "controller", "controller/commission", "controller/config", "controller/drift", "controller/ledger", "controller/live", "controller/loop", "controller/metrics", "controller/notify", "controller/notify/alarm", "controller/notify/outbox", "controller/rehearse", "controller/texts", "controller/web", "controller/web/crowd", "controller/web/page", "hw", "hw/gpio", "hw/sim", "hw/sim/realtime", "safety"}, outside: []string{"github.com/coreos/go-systemd/", "github.com/prometheus/", "github.com/rogpeppe/go-internal/diff", "go.yaml.in/yaml/", "golang.org/x/sys/"}, because: "the daemon puts the parts together, and is no command's but its own"},
	{from: "cmd/benchtide", house: []string{"cmd/benchtide/bench", "cmd/benchtide/cli", "cmd/benchtide/client", "cmd/benchtide/daemon", "cmd/benchtide/offline"}, because: "the program is its commands"},
	{from: "controller/rehearse/season", house: []string{"controller", "controller/chart", "controller/config", "controller/rehearse", "controller/sheet", "schedule"}, because: "pictures are drawn from samples and the report, and change nothing"},
}

// free packages are programs and tests for releases: nothing may import them.
var free = []string{"deploy/"}

const module = "benchtide/"

// graph is the imports of each package of this module that are not of the
// standard library, those of this module without its name.
type graph map[string][]string

// violations lists what breaks a rule, with its reason.
func (g graph) violations(rules []arrow) (found []string) {
	for _, from := range slices.Sorted(maps.Keys(g)) {
		if begins(from, free) {
			continue
		}
		i := slices.IndexFunc(rules, func(a arrow) bool { return a.from == from })
		if i < 0 {
			found = append(found, from+" has no rule: say what it may import, and why")
			continue
		}
		for _, to := range g[from] {
			if !slices.Contains(rules[i].house, to) && !begins(to, rules[i].outside) {
				found = append(found, fmt.Sprintf("%s imports %s, but %s", from, to, rules[i].because))
			}
		}
	}
	for _, a := range rules {
		if g[a.from] == nil {
			found = append(found, a.from+" has a rule but does not exist")
		}
	}
	return found
}

// reach lists everything that a package imports, directly or not.
func (g graph) reach(from string) []string {
	seen := map[string]bool{}
	var walk func(string)
	walk = func(p string) {
		for _, to := range g[p] {
			if !seen[to] {
				seen[to] = true
				walk(to)
			}
		}
	}
	walk(from)
	return slices.Sorted(maps.Keys(seen))
}

func begins(path string, prefixes []string) bool {
	return slices.ContainsFunc(prefixes, func(p string) bool { return strings.HasPrefix(path, p) })
}

// listed reads the output of go list -json.
func listed(r io.Reader) (graph, error) {
	g := graph{}
	for d := json.NewDecoder(r); ; {
		var p struct {
			ImportPath string
			Imports    []string
		}
		switch err := d.Decode(&p); {
		case errors.Is(err, io.EOF):
			return g, nil
		case err != nil:
			return nil, err
		}
		imports := []string{}
		for _, i := range p.Imports {
			first, _, _ := strings.Cut(i, "/")
			if strings.HasPrefix(i, module) || strings.Contains(first, ".") {
				imports = append(imports, strings.TrimPrefix(i, module))
			}
		}
		g[strings.TrimPrefix(p.ImportPath, module)] = imports
	}
}

func TestImportsFollowTheArrows(t *testing.T) {
	list := exec.Command("go", "list", "-json=ImportPath,Imports", "./...")
	list.Dir = "../.."
	out, err := list.Output()
	require.NoError(t, err)
	g, err := listed(bytes.NewReader(out))
	require.NoError(t, err)
	for _, v := range g.violations(arrows) {
		t.Error(v)
	}
	for _, to := range g.reach("controller/rehearse") {
		assert.False(t, begins(to, []string{"modernc.org/", "github.com/prometheus/"}), "a rehearsal carries %s", to)
	}
}

func TestABrokenArrowIsFound(t *testing.T) {
	rules := []arrow{
		{from: "safety", because: "it is pure"},
		{from: "hw", house: []string{"safety"}, outside: []string{"periph.io/"}, because: "it is the seam"},
		{from: "gone", because: "it was"},
	}
	g := graph{
		"safety":     {"schedule", "github.com/x/y"},
		"hw":         {"safety", "periph.io/x/conn", "controller"},
		"deploy/any": {"safety", "hw", "github.com/x/y"},
		"new":        {},
	}
	assert.Equal(t, []string{
		"hw imports controller, but it is the seam",
		"new has no rule: say what it may import, and why",
		"safety imports schedule, but it is pure",
		"safety imports github.com/x/y, but it is pure",
		"gone has a rule but does not exist",
	}, g.violations(rules))
	assert.Equal(t, []string{"controller", "github.com/x/y", "periph.io/x/conn", "safety", "schedule"}, g.reach("hw"))
}

func TestTheListIsReadWithoutTheStandardLibrary(t *testing.T) {
	g, err := listed(strings.NewReader(`{"ImportPath":"benchtide/hw","Imports":["time","encoding/json","benchtide/safety","periph.io/x/conn/v3"]}{"ImportPath":"benchtide/safety"}`))
	require.NoError(t, err)
	assert.Equal(t, graph{"hw": {"safety", "periph.io/x/conn/v3"}, "safety": {}}, g)
}
