package config_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
	"benchtide/hw/lines"
	"benchtide/safety"
	"benchtide/schedule"
)

func mustParse(t *testing.T, data string) *config.Site {
	site, problems := config.Parse("bench.yaml", []byte(data))
	require.NoError(t, problems.Err())
	return site
}

func mustRead(t *testing.T, name string) *config.Site {
	data, err := os.ReadFile(configs + name)
	require.NoError(t, err)
	return mustParse(t, string(data))
}

func TestTheExampleIsSoundAndHasNothingToWarnOf(t *testing.T) {
	_, problems := config.Parse("example.yaml", config.Example)
	assert.Empty(t, problems)
}

// Each case changes one thing in the example.
func TestOneMistakeGetsOneMessage(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"HIGH inside an ordinary flood", "at: 52 mm", "at: 38 mm",
			`bench.yaml:27:37: benches.north.high_switch.at: 38 mm: an ordinary flood stands 11 mm over the crest, at 41 mm: set HIGH between that and the rim at 75 mm`},
		{"HIGH above the rim", "at: 52 mm", "at: 8 cm",
			`bench.yaml:27:37: benches.north.high_switch.at: 80 mm: HIGH is not below the rim at 75 mm: water would spill before it acts`},
		{"FULL at the crest", "at: 26 mm", "at: 30 mm",
			`bench.yaml:26:37: benches.north.full_switch.at: 30 mm: FULL is not below the crest at 30 mm, so no flood would make it: set it 3 to 8 mm below the crest`},
		{"a low switch that proves too little", "at: 155 L", "at: 30 gal",
			`bench.yaml:16:36: reservoirs.tank.low_switch.at: 114 L: a flood of north takes 117 L and 20 L are kept, so the switch has to prove 138 L at least: set it higher`},
		{"a standpipe too narrow", "bore: 50 mm", "bore: 15 mm",
			`benches.north: the standpipe needs 458 mm above its crest to carry 1140 L/h, and the rim is 45 mm above it: fit a wider standpipe or a smaller pump`},
		{"too many pots", "pots: 96", "pots: 960",
			`benches.north: the pots cover 6.11 m² and the table has 2.88 m²: put fewer or smaller pots on it`},
		{"floods too close", `["08:30", "15:00"]`, `["08:30", "14:40", "15:00"]`,
			`plans.basil.2: floods at 14:40 and 15:00: on north a flood takes 23 min 30 s to fill, hold, drain and rest, and cannot finish before the next: put them further apart`},
		{"a flood before midnight too close to one after", `["08:30", "15:00"]`, `["00:05", "12:00", "23:55"]`,
			`plans.basil.2: floods at 23:55 and 00:05`},
		{"the same time twice", `["08:30", "15:00"]`, `["08:30", "8:30"]`,
			`bench.yaml:36:32: plans.basil.2.flood_at: the same time stands here twice: leave one out`},
		{"a gap that the plants do not stand", "can_wait: 20 h", "can_wait: 14 h",
			`bench.yaml:37:92: plans.basil.3.can_wait: 14 h: from 2026-03-26 on basil_spring waits up to 17 h`},
		{"a batch on no bench", "bench: north", "bench: south",
			`bench.yaml:40:46: batches.1.bench: "south": no such name: did you mean north?`},
		{"a second document", "substrate: peat}", "substrate: peat}\n---\nboard: gpio", `bench.yaml:41:1: a second document: one file describes one site`},
		{"a zone of the machine", "Europe/Dublin", "Local",
			`site.timezone: "Local": name the site's own zone, such as Europe/Dublin`},
		{"a path that is none", "keep: 20 L", "keep: 20 L\n    thermometer: {path: temperature}",
			`reservoirs.tank.thermometer.path: "temperature": write the whole path, beginning with /`},
		{"a thermometer of another kind", "keep: 20 L", "keep: 20 L\n    thermometer: {path: /dev/null, url: x}",
			`reservoirs.tank.thermometer: unknown key "url": known here are path`},
		{"a cron expression with a zone", "cron: \"0 8-17/3 * * *\"", "cron: \"TZ=UTC 0 8 * * *\"",
			`leave the zone out and set the site's timezone instead`},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, string(config.Example), c.old)
			site, problems := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), c.old, c.new, 1)))
			assert.Nil(t, site)
			require.Len(t, problems.Errors(), 1, "%v", problems)
			assert.Contains(t, problems.Errors()[0].String(), c.want)
		})
	}
}

func TestWarningsLeaveTheFileFitForUse(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"a relay on a line pulled the wrong way", "line: GPIO5, ", "line: GPIO12,",
			`bench.yaml:7:40: warning: outputs.flood_pump.energise: low: a Raspberry Pi pulls GPIO12 down at power-on`},
		{"a relay that energises on high on a line pulled up", "line: GPIO22, energise: high", "line: GPIO4, energise: high",
			`warning: outputs.enable.energise: high: a Raspberry Pi pulls GPIO4 up at power-on, which energises this relay`},
		{"the UART", "line: GPIO24", "line: GPIO15",
			`warning: benches.north.full_switch.line: "GPIO15": on a Raspberry Pi that line serves the serial console too`},
		{"the I2C bus", "line: GPIO24", "line: GPIO3",
			`warning: benches.north.full_switch.line: "GPIO3": on a Raspberry Pi that line serves the I2C bus too`},
		{"the SPI bus", "line: GPIO6, ", "line: GPIO8, ",
			`warning: outputs.stirrer.line: "GPIO8": on a Raspberry Pi that line serves the SPI bus too`},
		{"the EEPROM of add-on boards", "line: GPIO24", "line: GPIO1",
			`"GPIO1": on a Raspberry Pi that line serves the EEPROM of add-on boards too`},
		{"no HIGH", "high_switch: {line: GPIO25, at: 52 mm, water: opens}", "leak_switch: {line: GPIO25, water: opens}",
			`only the standpipe keeps water from the floor`},
		{"no low switch", "low_switch: {line: GPIO23, at: 155 L, water: closes}", "",
			`no low_switch: nothing shows that the reservoir holds a flood`},
		{"a HIGH that a broken wire silences", "at: 52 mm, water: opens", "at: 52 mm, water: closes",
			`warning: benches.north.high_switch.water: closes: a broken wire would read as no water`},
		{"a fill that the figures contradict", "fill: 3.5 min", "fill: 9 min",
			`bench.yaml:28:19: warning: benches.north.cycle.fill: a fill of 9 min was measured, but the figures here come to 3 min`},
		{"an output without use", "aeration: {output: air, always: true}", "",
			`warning: outputs.air: nothing uses this output; it stays off`},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, string(config.Example), c.old)
			data := strings.Replace(string(config.Example), c.old, c.new, 1)
			if c.name == "no HIGH" {
				data = strings.Replace(data, "hold: 8 min", "hold: 5 min", 1)
				data = strings.Replace(data, "hold: 6 min", "hold: 5 min", 1)
			}
			site, problems := config.Parse("bench.yaml", []byte(data))
			assert.NotNil(t, site, "%v", problems)
			require.Len(t, problems, 1, "%v", problems)
			assert.Contains(t, problems[0].String(), c.want)
		})
	}
}

func TestWithoutAnEnableRelayNoLayerIsIndependentOfTheProgram(t *testing.T) {
	const relay = "  enable:     {line: GPIO22, energise: high, kind: enable}"
	require.Contains(t, string(config.Example), relay)
	data := strings.Replace(string(config.Example), relay, "  #", 1)
	_, problems := config.Parse("bench.yaml", []byte(data))
	require.NoError(t, problems.Err())
	var told []string
	for _, w := range problems.Warnings() {
		told = append(told, w.String())
	}
	all := strings.Join(told, "\n")
	assert.Contains(t, all, "outputs.flood_pump: no enable relay in series: when the contact of this relay welds, nothing stops the pump")
	assert.Contains(t, all, "benches.north.high_switch: nothing but this program acts on it: wire it into the coil of an enable relay, or fill the reservoir to no more than ")

	small := strings.NewReplacer("usable: 200 L", "usable: 165 L").Replace(data)
	_, problems = config.Parse("bench.yaml", []byte(small))
	require.NoError(t, problems.Err())
	assert.NotContains(t, fmt.Sprint(problems.Warnings()), "nothing but this program acts on it", "so little cannot overfill the table")
}

func TestTheGuardGetsTheNumbersOfTheSheet(t *testing.T) {
	s := mustParse(t, string(config.Example))
	l := s.Limits()
	assert.Equal(t, []safety.OutputLimits{
		{Name: "flood_pump", Kind: safety.FloodPump, Enable: 3, Line: "GPIO5"},
		{Name: "stirrer", Kind: safety.Stirrer, Enable: 3, Line: "GPIO6"},
		{Name: "air", Kind: safety.Other, Enable: -1, Line: "GPIO13"},
		{Name: "enable", Kind: safety.Enable, Enable: -1, Line: "GPIO22"},
	}, l.Outputs)
	assert.Equal(t, []safety.ReservoirLimits{{Name: "tank", Usable: 200, Keep: 20, Low: true, LowAt: 155}}, l.Reservoirs)
	assert.Equal(t, []safety.StirrerLimits{{Output: 1, Reservoir: 0, BeforeFlood: 10 * time.Minute}}, l.Stirrers)
	assert.True(t, l.FloorDrained)

	b, sh := l.Benches[0], s.Sheet(0)
	assert.True(t, b.Full && b.High && !b.Empty && !b.Leak)
	assert.Equal(t, 210*time.Second, b.Fill)
	assert.Equal(t, 2*time.Minute, b.Fall)
	assert.Equal(t, 12*time.Minute, b.Drain)
	assert.Equal(t, sh.Spans.Low("t_over_s"), b.Over, "as soon as it may")
	assert.Zero(t, b.FillBy+b.FallBy, "it was timed")
	assert.Equal(t, 8*time.Minute, b.MaxHold)
	assert.Equal(t, 2*4*(210*time.Second+8*time.Minute), b.DailyRun, "twice the four floods of the last stage")
	assert.InDelta(t, float64(sh.Flow), float64(b.Flow)*3600, 1e-6)
	assert.InDelta(t, float64(sh.VFlood), float64(b.Flood), 1e-9)
}

func TestOrderOfTheFileIsKept(t *testing.T) {
	s := mustRead(t, "two-benches.yaml")
	l := s.Limits()
	assert.Equal(t, []string{"upper", "lower"}, []string{l.Benches[0].Name, l.Benches[1].Name})
	assert.Equal(t, []int{3, 4, 3, -1, -1}, enables(l), "each pump behind the relay that it names")
	assert.Equal(t, 6*time.Minute, l.Benches[0].MaxHold, "of the plans on this bench alone")
	assert.True(t, l.Benches[0].Empty && l.Benches[0].Leak)
}

func enables(l safety.Limits) (all []int) {
	for _, o := range l.Outputs {
		all = append(all, o.Enable)
	}
	return all
}

func TestTheCalendarFollowsThePlan(t *testing.T) {
	c, err := mustParse(t, string(config.Example)).Calendar()
	require.NoError(t, err)
	next, ok := c.After(0, schedule.CivilOf(2026, 3, 2, 9, 0, 0))
	require.True(t, ok)
	assert.Equal(t, "2026-03-03T09:00", next.Slot.Local.String())
	next, ok = c.After(0, schedule.CivilOf(2026, 4, 1, 9, 0, 0))
	require.True(t, ok)
	assert.Equal(t, "2026-04-01T11:00", next.Slot.Local.String())
	assert.Equal(t, 1.0, next.Strength)
}

func TestWhatStandsBesideTheBenchIsRead(t *testing.T) {
	s := mustRead(t, "full-high.yaml")
	assert.Equal(t, []config.Lamp{{Output: 2, Lamps: schedule.Lamps{On: 10 * 3600, Off: 2 * 3600}}}, s.Lamps)
	assert.Equal(t, &config.Buzzer{Output: 3, BeforeStart: 10 * time.Second}, s.Buzzer)
	assert.Equal(t, []config.Aeration{{Output: 4, From: 6 * 3600, To: 23 * 3600}}, s.Aeration)
	assert.Equal(t, &config.Switch{Line: lines.Named("GPIO26"), Closes: true, Pull: config.PullUp}, s.HandsIn)
	assert.Equal(t, "/sys/bus/w1/devices/28-000000000001/temperature", s.Reservoirs[0].Thermometer)
	assert.True(t, s.Limits().Reservoirs[0].Thermometer)
	assert.False(t, s.FloorDrained)
	assert.Equal(t, "coir", s.Batches[0].Substrate.Name)

	c, err := s.Calendar()
	require.NoError(t, err)
	next, ok := c.After(0, schedule.CivilOf(2017, 9, 20, 0, 0, 0))
	require.True(t, ok)
	assert.Equal(t, "2017-09-20T14:00", next.Slot.Local.String(), "the lamps' hours, not the sun's, spread the floods")
}

func TestUSUnitsDescribeTheSameBench(t *testing.T) {
	metric, us := mustRead(t, "full-high.yaml"), mustRead(t, "us-units.yaml")
	assert.InEpsilon(t, float64(metric.Sheet(0).VFlood), float64(us.Sheet(0).VFlood), 2e-3)
	assert.InEpsilon(t, metric.Sheet(0).Fill.Seconds(), us.Sheet(0).Fill.Seconds(), 5e-3)
	assert.InEpsilon(t, metric.Sheet(0).Over.Seconds(), us.Sheet(0).Over.Seconds(), 5e-3)
}

func TestTheFingerprintIsOfTheWiringAlone(t *testing.T) {
	example := string(config.Example)
	of := func(old, new string) string {
		require.Contains(t, example, old)
		return mustParse(t, strings.Replace(example, old, new, 1)).Fingerprint()
	}
	same := mustParse(t, example).Fingerprint()
	assert.Len(t, same, 64)
	for _, c := range [][2]string{
		{"Quarry Lane school greenhouse", "Elsewhere"},
		{"# A school greenhouse", "# Another"},
		{"hold: 8 min", "hold: 7 min"},
		{"at: 26 mm", "at: 25 mm"},
		{"line: GPIO5, ", "line: gpio5, "},
		{"{line: GPIO13, energise: high, kind: air}", "{kind: air, energise: high, line: GPIO13}"},
	} {
		assert.Equal(t, same, of(c[0], c[1]), c[1])
	}
	for _, c := range [][2]string{
		{"board: simulated", "board: gpio"},
		{"GPIO24", "GPIO26"},
		{"at: 26 mm, water: closes", "at: 26 mm, water: opens"},
		{"{line: GPIO5,  energise: low,", "{line: GPIO5,  energise: high,"},
		{"high_switch: {line: GPIO25, at: 52 mm, water: opens}", "high_switch: {line: GPIO25, at: 52 mm, water: opens, pull: down}"},
	} {
		assert.NotEqual(t, same, of(c[0], c[1]), c[1])
	}
}

func TestTheReportForProgramsHasTheContractedKeys(t *testing.T) {
	site, problems := config.Parse("bench.yaml", config.Example)
	data, err := json.Marshal(config.NewReport("bench.yaml", site, problems))
	require.NoError(t, err)
	var report struct {
		Errors, Warnings []any
		Benches          map[string]map[string]any
	}
	require.NoError(t, json.Unmarshal(data, &report))
	assert.NotNil(t, report.Errors)
	assert.Empty(t, report.Errors)
	assert.NotNil(t, report.Warnings)
	north := report.Benches["north"]
	for key, want := range map[string]any{
		"v_flood_l": 117.4, "t_fill_s": 210.0, "t_fall_s": 120.0, "t_drain_s": 720.0, "t_over_s": 336.1,
		"flow_l_per_h": 1144.2, "overflow_head_mm": 10.7, "can_overfill": true, "load_kg_per_m2": 40.7,
	} {
		assert.Equal(t, want, north[key], key)
	}
	limits := north["limits"].(map[string]any)
	assert.Equal(t, 795.0, limits["max_run_s"])
	assert.Equal(t, 840.0, limits["min_rest_s"])
	assert.Equal(t, []any{105.0, 315.0}, limits["fill_window_s"])

	site, problems = config.Parse("bench.yaml", []byte("board: gpoi"))
	data, err = json.Marshal(config.NewReport("bench.yaml", site, problems))
	require.NoError(t, err)
	assert.Contains(t, string(data), `{"line":1,"column":8,"text":"board: \"gpoi\": did you mean gpio?"}`)
}

func FuzzParse(f *testing.F) {
	f.Add(config.Example)
	for _, name := range []string{"two-benches.yaml", "wrong-keys.yaml", "wrong-units.yaml", "wrong-geometry.yaml", "wrong-plans.yaml", "wrong-yaml.yaml"} {
		data, err := os.ReadFile(configs + name)
		require.NoError(f, err)
		f.Add(data)
	}
	for _, text := range []string{"", "a", "&a [*a]", "? [a]\n: b", "<<: {site: x}", "site: !!binary x", "---\n---\n"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		site, problems := config.Parse("bench.yaml", data)
		if (site == nil) != (problems.Err() != nil) {
			t.Fatalf("site %v with problems %v", site, problems)
		}
		for _, p := range problems {
			if p.Line < 1 || p.Column < 1 {
				t.Errorf("no place: %v", p)
			}
		}
		if site == nil {
			return
		}
		if _, err := site.Calendar(); err != nil {
			t.Errorf("calendar of a sound file: %v", err)
		}
		for _, b := range site.Limits().Benches {
			if b.Fill <= 0 || b.Fall <= 0 || b.Drain <= 0 || b.Over <= 0 || !(b.Flow > 0) || !(b.Flood > 0) || b.MaxHold <= 0 || b.DailyRun <= 0 {
				t.Errorf("limits that limit nothing: %+v", b)
			}
		}
	})
}

func TestASwitchThatCannotSeeAWholeFloodThroughIsWarnedOf(t *testing.T) {
	for name, c := range map[string]struct {
		change [2]string
		warns  string
	}{
		"room for a leak":           {[2]string{"", ""}, ""},
		"less room":                 {[2]string{"at: 155 L", "at: 154 L"}, "since after a slow fill the pump is stopped when the water counted since it fell reaches what is kept: set it at 155 L or higher"},
		"no FULL":                   {[2]string{"    full_switch: {line: GPIO24, at: 26 mm, water: closes}\n", ""}, "without full_switch nothing shows that water comes back"},
		"no FULL, in a larger tank": {[2]string{"    full_switch: {line: GPIO24, at: 26 mm, water: closes}\n", ""}, "have a larger reservoir"},
	} {
		t.Run(name, func(t *testing.T) {
			_, problems := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), c.change[0], c.change[1], 1)))
			require.NoError(t, problems.Err())
			said := fmt.Sprint(problems.Warnings())
			if c.warns == "" {
				assert.NotContains(t, said, "may be stopped before its hold is over")
			} else {
				assert.Contains(t, said, c.warns)
			}
		})
	}
}
