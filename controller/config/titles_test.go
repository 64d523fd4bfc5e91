package config_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/schedule"
)

const (
	ofNorth = "    reservoir: tank\n"
	ofTank  = "    usable: 200 L\n"
	ofPlan  = "  basil:\n    - {from_day: 0,"
	ofBatch = "name: basil_spring,"
)

func entitled(t *testing.T, pairs ...string) (*config.Site, config.Problems) {
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, string(config.Example), pairs[i])
	}
	return config.ParseOn("bench.yaml", []byte(strings.NewReplacer(pairs...).Replace(string(config.Example))), checkedOn)
}

func TestATitleIsTakenInAnyScript(t *testing.T) {
	for _, title := range []string{"Nordtisch", "北の台", "الطاولة الشمالية", "उत्तर मेज़", "So\u0308derbord", "Bench 7, by the door", "1", strings.Repeat("ß", 80)} {
		site, problems := entitled(t, ofNorth, ofNorth+"    title: "+title+"\n", ofTank, ofTank+"    title: "+title+"\n",
			ofPlan, "  basil:\n    title: "+title+"\n    stages:\n    - {from_day: 0,", ofBatch, ofBatch+` title: "`+title+`",`)
		require.Empty(t, problems, title)
		assert.Equal(t, title, site.Titles.Bench("north"))
		assert.Equal(t, title, site.Titles.Reservoir("tank"))
		assert.Equal(t, title, site.Titles.Batch("basil_spring"))
		assert.Equal(t, title, site.Titles.Plan("basil"))
		assert.Equal(t, "north", site.Benches[0].Name)
	}
}

// What a bench withholds is told in the names that people read.
func TestConflictsNameBatchesByTheirTitles(t *testing.T) {
	whole := "  - {name: basil_spring, "
	site, problems := entitled(t, whole, "  - {name: late, title: Second tray, plan: basil, bench: north, transplanted: 2026-03-30, pots: 9, pot: {top: 9 cm, volume: 0.35 L}, substrate: peat}\n"+whole+"title: Basil of the spring, ",
		"pots: 96", "pots: 80")
	require.NoError(t, problems.Err())
	found, err := site.Conflicts(schedule.DateOf(2026, 3, 30), schedule.DateOf(2026, 3, 31))
	require.NoError(t, err)
	require.NotEmpty(t, found)
	assert.Contains(t, found[0].Detail, "Second tray (late)")
	assert.Contains(t, found[0].Detail, "Basil of the spring (basil_spring)")
	assert.Equal(t, schedule.DateOf(2026, 4, 8), found[0].To, "to its real end")
}

func TestATitleIsOneShortLine(t *testing.T) {
	for title, says := range map[string]string{
		`"a\nb"`: "line break", `"a\u001bb"`: "control character", `"a\u202eb"`: "control character", `"a\tb"`: "tab",
		strings.Repeat("x", 81): "it has 81 letters: write at most 80", `" "`: "nothing is written here", `[a]`: "expected what people call it", ``: "nothing is written here",
	} {
		_, problems := entitled(t, ofNorth, ofNorth+"    title: "+title+"\n")
		require.Len(t, problems.Errors(), 1, title)
		assert.Contains(t, problems.Errors()[0].Text, "benches.north.title: ", title)
		assert.Contains(t, problems.Errors()[0].Text, says, title)
	}
}

// A plan is the list of its stages, or a title and that list; a stage has the same
// place either way.
func TestAPlanHasATitleBesideItsStages(t *testing.T) {
	plain, problems := entitled(t)
	require.Empty(t, problems)
	site, problems := entitled(t, ofPlan, "  basil:\n    title: Basil in pots\n    stages:\n    - {from_day: 0,")
	require.Empty(t, problems)
	assert.Equal(t, plain.Plans, site.Plans)

	_, problems = entitled(t, ofPlan, "  basil:\n    title: Basil in pots\n    stages:\n    - {from_day: x,")
	require.Len(t, problems, 1)
	assert.Contains(t, problems[0].String(), `bench.yaml:37:18: plans.basil.1.from_day: "x"`)

	for written, says := range map[string]string{
		"  basil: {title: Basil}\n  other:\n    - {from_day: 0,":              "plans.basil.stages: missing: the stages of one plan",
		"  basil: {stages: []}\n  other:\n    - {from_day: 0,":                "plans.basil: no stages: write the stages of one plan",
		"  basil: {hold: 4 min}\n  other:\n    - {from_day: 0,":               "plans.basil: expected one plan: the list of its stages, or a section with its title and these stages, such as {title: ",
		"  basil: {stages: Basil}\n  other:\n    - {from_day: 0,":             "plans.basil: \"Basil\": one plan",
		"  basil:\n    titel: Basil, or so\n    stages:\n    - {from_day: 0,": "did you mean title?",
	} {
		_, problems := entitled(t, ofPlan, written, "plan: basil,", "plan: basil,")
		require.NotEmpty(t, problems.Errors(), written)
		assert.Contains(t, problems.Errors()[0].Text, says, written)
	}
}

func TestTwoThingsOfOneTitleAreWarnedOf(t *testing.T) {
	second := strings.Replace(benchOf(t, "north"), "  north:", "  south:", 1)
	with := func(north, south string) config.Problems {
		text := strings.Replace(string(config.Example), "\nstirring:", second+"\nstirring:", 1)
		text = strings.Replace(text, ofNorth, ofNorth+north, 1)
		at := strings.LastIndex(text, ofNorth)
		text = text[:at] + south + text[at:]
		_, problems := config.ParseOn("bench.yaml", []byte(text), checkedOn)
		var titles config.Problems
		for _, p := range problems.Warnings() {
			if strings.Contains(p.Text, ".title: ") {
				titles = append(titles, p)
			}
		}
		return titles
	}
	alike := with("    title: Tisch  eins\n", "    title: tisch eins\n")
	require.Len(t, alike, 1)
	assert.Contains(t, alike[0].Text, "benches.south.title: tisch eins: people call bench north so too: give each a title of its own")
	ofAName := with("", "    title: North\n")
	require.Len(t, ofAName, 1)
	assert.Contains(t, ofAName[0].Text, "benches.south.title: North: people call bench north so too")
	assert.Empty(t, with("    title: Nord\n", "    title: Süd\n"))
	assert.Empty(t, with("", ""))
}

// benchOf is what the example says of a bench.
func benchOf(t *testing.T, name string) string {
	_, rest, found := strings.Cut(string(config.Example), "\n  "+name+":")
	require.True(t, found)
	body, _, found := strings.Cut(rest, "\n\n")
	require.True(t, found)
	return "  " + name + ":" + body + "\n"
}

// A warning or an error calls benches, batches and plans as a list does.
func TestWhatACheckDoubtsIsCalledByItsTitle(t *testing.T) {
	batch := string(config.Example[strings.LastIndex(string(config.Example), "  - {name: basil_spring"):])
	second := strings.NewReplacer(ofBatch, "name: late, title: Später,", "2026-03-02", "2026-03-08").Replace(batch)
	titled := []string{ofNorth, ofNorth + "    title: Nordtisch\n", ofBatch, ofBatch + " title: الريحان,"}
	for _, c := range []struct{ says, old, new string }{
		{"on Nordtisch (north) from 2026-03-12 to 2026-03-17 all get strength 25 %; their stages ask الريحان (basil_spring) for 50 % and Später (late) for 25 %", batch, batch + second},
		{"الريحان (basil_spring) waits up to 24 h for a flood", "can_wait: 48 h", "can_wait: 20 h"},
		{"a flood of Nordtisch (north) takes 117 L", "at: 155 L", "at: 100 L"},
		{"on Nordtisch (north) a flood takes", `["08:30", "15:00"]`, `["08:30", "08:40"]`},
		{"cover 0.2 % of the table of Nordtisch (north)", "pots: 96", "pots: 1"},
		{"bench Nordtisch (north) uses that output already", "output: stirrer", "output: flood_pump"},
	} {
		text := strings.NewReplacer(titled...).Replace(strings.Replace(string(config.Example), c.old, c.new, 1))
		_, problems := config.Parse("bench.yaml", []byte(text))
		assert.Contains(t, problems.Error(), c.says)
	}
}
