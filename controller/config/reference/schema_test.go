package reference_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchtide/controller/config"
	"benchtide/controller/config/reference"
)

func compiled(t *testing.T) *jsonschema.Schema {
	text, err := reference.Schema()
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("bench.schema.json", doc))
	s, err := c.Compile("bench.schema.json")
	require.NoError(t, err)
	return s
}

// asEditorsSee is a file as an editor hands it to a schema: plain values by how
// they are written, dates as text. The error is one of YAML itself.
func asEditorsSee(data []byte) (any, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(data, &doc); err != nil || len(doc.Content) == 0 {
		return nil, fmt.Errorf("not YAML: %w", err)
	}
	return plainly(doc.Content[0])
}

func plainly(n *yaml.Node) (any, error) {
	switch n.Kind {
	case yaml.MappingNode:
		all := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			v, err := plainly(n.Content[i+1])
			if _, doubled := all[n.Content[i].Value]; doubled || err != nil {
				return nil, fmt.Errorf("key %q is doubled: %w", n.Content[i].Value, err)
			}
			all[n.Content[i].Value] = v
		}
		return all, nil
	case yaml.SequenceNode:
		all := []any{}
		for _, c := range n.Content {
			v, err := plainly(c)
			if err != nil {
				return nil, err
			}
			all = append(all, v)
		}
		return all, nil
	case yaml.AliasNode:
		return plainly(n.Alias)
	}
	if n.Tag == "!!timestamp" {
		return n.Value, nil
	}
	var v any
	err := n.Decode(&v)
	if i, ok := v.(int); ok {
		v = float64(i)
	}
	return v, err
}

func configs(t *testing.T) (all []string) {
	all, err := filepath.Glob("../../../testdata/configs/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, all)
	return all
}

func TestTheSchemaTakesEveryGoodFile(t *testing.T) {
	s := compiled(t)
	for _, path := range append(configs(t), "../example.yaml") {
		if strings.HasPrefix(filepath.Base(path), "wrong-") {
			continue
		}
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		seen, err := asEditorsSee(data)
		require.NoError(t, err)
		assert.NoError(t, s.Validate(seen), path)
	}
}

// written are values for a kind of key, each judged by the reader and by the
// schema. That both judge alike is the test; what is right of it, neither says
// here.
var written = map[config.Kind][]string{
	config.Length:      {"30 mm", "3cm", "1.2 in", "1 1/4 in", "1-1/4 in", "1¼ in", `7' 6"`, "7 ft 6 in", "2 m 40 cm", "30", "30 L", "-3 mm", "0 mm", "0 ft 0 in", "0 ft 6 in", "6 in 7 ft", "1 m 2 in", "1,5 m", "1.2.3 m", "thirty mm", "30 MM", "30 mm.", "1e3 mm", "1/0 in", "0/4 in", ".5 m", "5. m", "+5 cm", "[30 mm]", "{mm: 30}", "~", "true", "''", "30 mm 4"},
	config.Volume:      {"120 L", "350 mL", "20 gal", "1/2 gal", "3 qt", "1 pt", "6 fl oz", "6 fl. oz.", "1 gal 2 qt", "2 qt 1 gal", "1 L 200 mL", "200", "200 mm", "0 L", "-1 L", "0,28 L", "3 oz", "12 liters", "5 US gal", "[]", "2 gal 1 L"},
	config.Flow:        {"1200 L/h", "20 L/min", "250 gph", "250 gal/h", "5 gpm", "5 gal/min", "12 L/s", "2000 L", "2000", "0 gph", "1/2 gpm", "5 gph 2 gph", "lots"},
	config.Time:        {"10 s", "3.5 min", "48 h", "2 d", "1 h 30 min", "1h30min", "30 min 1 h", "5 fortnights", "5", "-1 h", "0 s", "soon", "1 hour", "4 minuts"},
	config.Days:        {"2 d", "1 d", "30 d", "31 d", "0 d", "2 days", "3d", "2", "48 h", "1.5 d", "second day", "2 D", "-2 d", "007 d"},
	config.Share:       {"25 %", "25%", "0.25", "25 percent", "1/2 %", "-5 %", "'% 25'", "half"},
	config.Warmths:     {"10 to 18 C", "10 C to 18 C", "50 to 64 F", "-3 to 4 C", "10 C", "10", "10 - 18 C", "10 to 18", "18 C to", "10 to 18 K", "[10 C, 18 C]"},
	config.Shares:      {"40 to 85 %", "40 % to 85 %", "40 to 85", "40 %", "-4 to 10 %", "dry to damp"},
	config.Sunlights:   {"4 to 27 MJ/m2", "4 MJ/m² to 27 MJ/m²", "8 to 50 mol/m2", "4 to 27", "4 to 27 MJ", "bright", "1e1 to 2e1 MJ/m2"},
	config.PhotonFlux:  {"180 umol/m2s", "180 µmol/m²s", "180 umol/m2/s", "180", "180 lux", "180umol/m2s"},
	config.Degrees:     {"53.2", "-7.1", "'53.2'", "53,2", "53.2 N", "91.5", "200", "fifty", "[53.2]"},
	config.Whole:       {"10", "'10'", "10 days", "-1", "2.5", "many", "0", "1000001", "[1]", "{a: 1}"},
	config.Date:        {"2026-03-02", "'2026-03-02'", "2026-3-2", "02.03.2026", "2026-13-01", "2026-04-31", "March 2", "20260302"},
	config.TimeOfDay:   {`"09:00"`, "9:30", `"24:00"`, `"9"`, `"09:60"`, "nine", `"23:59:59"`, "9 am"},
	config.CronTimes:   {`"0 8-17/3 * * *"`, `"@daily"`, `"0 8 * *"`, `"@often"`, `"every 3 hours"`, `"0 8 * * * *"`, "8"},
	config.Truth:       {"true", "false", "True", "yes", "1", "on", "'true'"},
	config.GPIOLine:    {"GPIO5", "PA7", "5", "GPIO 5", "pin 29", "{pin: 29}", "{chip: tray, offset: 3}", "{chip: tray}", "{offset: 3}", "{pin: 29, offset: 3}", "{chip: gpiochip0, offset: 3}", "{chip: tray, offset: 3, address: 0x20}", "{chip: tray, ofset: 3}", "{pin: 0}", "[GPIO5]", "''", "~"},
	config.Zone:        {"Europe/Dublin", "America/Chicago", "UTC", "''", "Europe Dublin", "5"},
	config.OwnName:     {"basil_one", "2nd", "basil one", "'basil-1'", "basilikum_für_alle", "a", "''", strings.Repeat("a", 41), "[a]"},
	config.Words:       {"Quarry Lane", "Gärtnerei Müller 🌱", "12", "''", "'  '", `"two\nlines"`, "[a]", "{a: b}", "~"},
	config.WholePath:   {"/etc/ca.pem", "etc/ca.pem", "''", "~/ca.pem", "[/a]"},
	config.Mailbox:     {"grower@example.org", "[a@example.org, b@example.org]", "grower", "[]", "[grower]", "{to: a@example.org}", "'@example.org'", "a b"},
	config.Server:      {"smtp.example.org:465", "smtp.example.org", "':25'", "smtp.example.org:99999", "smtp.example.org:smtp", "'[::1]:25'"},
	config.WebAddress:  {"https://example.org/hook", "example.org", "ftp://example.org", "http://127.0.0.1:80/x", "'https://'"},
	config.BrokerPlace: {"mqtts://example.org:8883", "mqtts://example.org", "https://example.org:8883", "mqtt://localhost:1883", "example.org:8883"},
	config.Topic:       {"greenhouse/bench", "bench", "/bench", "bench/", "a/#", "a/+/b", "$SYS/x", "''"},
}

// readersAlone are the classes of what only the reader judges, each with words of its
// errors: where one holds one of them, the schema may take the file.
var readersAlone = []struct {
	class string
	words []string
}{
	{"how the points of a pump follow each other", []string{"in order of head", "brings less the higher it lifts", "head down: write the one", "that head already"}},
	{"sums of quantities that come to nothing", []string{"must be more than nothing"}}, // never alone: the schema knows it too
	{"which names the file gives, and of what kind", []string{": no such name", " of kind ", "has that name already", "several enable relays", "describe the server under"}},
	{"which time zones there are", []string{"no such time zone"}},
	{"how large a quantity may be", []string{"write a length from", "write a length up to", "write a share", "write a length of time from", "write a share up to"}},
	{"which end of a span is the lower", []string{"write the lower end first"}},
	{"the numbers of a cron expression", []string{"read cron expression"}},
	{"addresses that need TLS", []string{"needs https", "needs TLS"}},
	{"days that a month does not have", []string{"days: write a day of the calendar"}},
	{"arithmetic between keys", []string{"is not below the rim", "is not below the crest", "is not below FULL", "could never be made", "is wired to that line already",
		"lie in the past", "overlaps the stage before", "nothing of the", "lifts", "has to prove", "stands here twice", "set HIGH between", "more than half", "keep one of the two", "above the high", "it needs", "in order of age", "uses that output already"}},
}

// changes are files with one change each: of a key, of all its values, of what
// stands beside it.
func changes(t *testing.T, visit func(what string, data []byte)) {
	tried, kinds := map[string]bool{}, map[config.Kind]int{}
	for _, path := range configs(t) {
		if strings.HasPrefix(filepath.Base(path), "wrong-") {
			continue
		}
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		var doc yaml.Node
		require.NoError(t, yaml.Unmarshal(data, &doc))
		render := func(what string) {
			text, err := yaml.Marshal(&doc)
			require.NoError(t, err)
			visit(what, text)
		}
		walk(doc.Content[0], "", func(path string, parent *yaml.Node, i int) {
			k := config.KeyAt(path)
			if k == nil || tried[k.Path] {
				return
			}
			tried[k.Path] = true
			n := parent.Content[i]
			values := k.Words
			if kinds[k.Kind]++; kinds[k.Kind] == 1 || k.Many {
				values = append(slices.Clone(values), written[k.Kind]...)
			}
			for _, text := range values {
				var v yaml.Node
				require.NoError(t, yaml.Unmarshal([]byte(text), &v), text)
				parent.Content[i] = v.Content[0]
				render(path + " = " + text)
			}
			for j := range 1 {
				text := []string{"nonsense", "12", "[x]", "{x: y}", "~", "''"}[(len(tried)+j)%6]
				var v yaml.Node
				require.NoError(t, yaml.Unmarshal([]byte(text), &v), text)
				parent.Content[i] = v.Content[0]
				render(path + " = " + text)
			}
			parent.Content[i] = n
			if parent.Kind != yaml.MappingNode {
				return
			}
			whole := parent.Content
			parent.Content = append(append([]*yaml.Node{}, whole[:i-1]...), whole[i+1:]...)
			render("without " + path)
			parent.Content = whole
			if len(tried)%3 > 0 {
				return
			}
			name := *whole[i-1]
			whole[i-1].Value += "s"
			render(path + "s")
			*whole[i-1] = name
		})
	}
}

func walk(n *yaml.Node, path string, visit func(path string, parent *yaml.Node, i int)) {
	for i, c := range n.Content {
		at := strings.TrimPrefix(fmt.Sprintf("%s.%d", path, i+1), ".")
		if n.Kind == yaml.MappingNode {
			if i%2 == 0 {
				continue
			}
			at = strings.TrimPrefix(path+"."+n.Content[i-1].Value, ".")
		}
		visit(at, n, i)
		walk(c, at, visit)
	}
}

// The reader's verdict is that of what is written, before what it comes to
// together: Wiring leaves that out.
func TestSchemaAndReaderJudgeAlike(t *testing.T) {
	s := compiled(t)
	var files, good, wrong int
	alone := map[string]int{}
	changes(t, func(what string, data []byte) {
		files++
		_, refused := config.Wiring("bench.yaml", data)
		seen, marked := asEditorsSee(data)
		if marked == nil {
			marked = s.Validate(seen)
		}
		switch {
		case (refused == nil) == (marked == nil):
			if refused == nil {
				good++
			} else {
				wrong++
			}
		case marked == nil && onlyTheReaderKnows(refused) != "":
			alone[onlyTheReaderKnows(refused)]++
		case marked == nil:
			t.Errorf("%s: the schema takes it, and the reader says\n%v", what, refused)
		default:
			t.Errorf("%s: the reader takes it, and the schema says\n%v", what, marked)
		}
	})
	t.Logf("%d files: %d good and %d wrong to both; wrong to the reader alone: %v", files, good, wrong, alone)
	assert.Greater(t, files, 200)
	assert.Greater(t, good, 100)
	assert.Greater(t, wrong, 100)
	assert.Less(t, files-good-wrong, files/8)
}

// odd are changes of the example that people make, each judged by the whole of check:
// what its keys come to together, too.
var odd = [][2]string{
	{"rim: 75 mm", "rim: 25 mm"}, {"crest: 30 mm", "crest: 90 mm"}, {"at: 26 mm", "at: 36 mm"}, {"at: 52 mm", "at: 82 mm"}, {"at: 52 mm", "at: 33 mm"},
	{"keep: 20 L", "keep: 200 L"}, {"at: 155 L", "at: 255 L"}, {"at: 155 L", "at: 25 L"}, {"max_head: 2.2 m", "max_head: 0.5 m"}, {"lift: 0.8 m", "lift: 2.6 m"},
	{"line: GPIO24", "line: GPIO25"}, {"from_day: 10", "from_day: 30"}, {"from_day: 24", "from_day: 10"}, {`["08:30", "15:00"]`, `["08:30", "08:30"]`},
	{"always: true", `always: true, from: "06:00", to: "22:00"`}, {"drain: {through: pump}", "drain: {through: pump, bore: 25 mm, length: 0.6 m}"},
	{"plan: basil, bench", "plan: basel, bench"}, {"bench: north", "bench: south"}, {"pump: flood_pump", "pump: air"}, {"output: stirrer", "output: enable"},
	{"floor: drained", "floor: drained, climate: {lows: 30 to 40 C, highs: 10 to 18 C, humidity: 40 to 85 %, light: 4 to 27 MJ/m2}"},
	{"floor: drained", "floor: drained, units: us"}, {"floor: drained", "floor: drained, units: imperial"}, {"floor: drained", "floor: [drained]"},
	{"volume: 0.35 L", "volume: 12 fl oz"}, {"volume: 0.35 L", "volume: 12 oz"}, {"top: 9 cm", `top: "3 1/2 in"`}, {"rim: 75 mm", "rim: 3 in"}, {"length: 2.4 m", "length: 7 ft 10 1/2 in"},
	{"2026-03-02", "2026-02-30"}, {"2026-03-02", "31/11/2026"}, {"2026-03-02", `"2026-03-02"`}, {`"09:00"`, `"24:00"`}, {`["09:00"]`, "09:00"}, {`["09:00"]`, `"09:00, 15:00"`},
	{`"0 8-17/3 * * *"`, `"0 8-25/3 * * *"`}, {`"0 8-17/3 * * *"`, `"hourly"`}, {"Europe/Dublin", "CST"}, {"Europe/Dublin", "Europe/Dubln"}, {"pots: 96", "pots: 9.6"},
	{"strength: 25 %", "strength: 0.25"}, {"strength: 25 %", "strength: 125 %"}, {"hold: 4 min", "hold: 4 m"}, {"max_flow: 2000 L/h", "max_flow: 530 gal/h"}, {"energise: low", "energize: low"},
	{"full_switch: {", "fullswitch: {"}, {"board: simulated", "board: raspberry"}, {"substrate: peat", "substrate: soil"}, {"crest: 30 mm, ", ""}, {"    reservoir: tank\n", ""},
}

func TestSchemaAndReaderJudgeOddFilesAlike(t *testing.T) {
	s := compiled(t)
	good, wrong, alone := 0, 0, map[string]int{}
	for _, change := range odd {
		require.Contains(t, string(config.Example), change[0])
		data := []byte(strings.Replace(string(config.Example), change[0], change[1], 1))
		_, problems := config.Parse("bench.yaml", data)
		refused := problems.Err()
		seen, marked := asEditorsSee(data)
		if marked == nil {
			marked = s.Validate(seen)
		}
		switch {
		case refused == nil && marked == nil:
			good++
		case refused != nil && marked != nil:
			wrong++
		case refused == nil:
			t.Errorf("%s: the reader takes it, and the schema says\n%v", change[1], marked)
		case onlyTheReaderKnows(refused) == "":
			t.Errorf("%s: the schema takes it, and the reader says\n%v", change[1], refused)
		default:
			alone[onlyTheReaderKnows(refused)]++
		}
	}
	t.Logf("%d odd files: %d good and %d wrong to both; wrong to the reader alone: %v", len(odd), good, wrong, alone)
	assert.Greater(t, good, 5)
	assert.Greater(t, wrong, 15)
}

// onlyTheReaderKnows is the class of what the errors are about where the schema cannot
// judge any of them; else empty.
func onlyTheReaderKnows(refused error) (class string) {
	for line := range strings.Lines(refused.Error()) {
		known := ""
		for _, c := range readersAlone {
			if known == "" && slices.ContainsFunc(c.words, func(word string) bool { return strings.Contains(line, word) }) {
				known = c.class
			}
		}
		if known == "" {
			return ""
		}
		class = known
	}
	return class
}
