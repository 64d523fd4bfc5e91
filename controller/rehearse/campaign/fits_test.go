package campaign

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

// fit is a set of sensors and surroundings that a file can say.
type fit struct {
	full, high, empty, leak bool
	low                     string // "", "low" where the least that check takes, "low weighs" where each fill passes it
	level                   bool   // a second float, where each fill passes it
	enable, drained, shared bool
}

// everyFit lists them all. EMPTY needs FULL, and a level switch beside a low one
// that weighs tells nothing more.
func everyFit() (all []fit) {
	two := []bool{false, true}
	for _, full := range two {
		for _, high := range two {
			for _, empty := range two[:1+b2i(full)] {
				for _, leak := range two {
					all = append(all, around(fit{full: full, high: high, empty: empty, leak: leak})...)
				}
			}
		}
	}
	return all
}

// around is a set of sensors on a bench with every reservoir and floor.
func around(f fit) (all []fit) {
	two := []bool{false, true}
	for _, f.low = range []string{"", "low", "low weighs"} {
		for _, f.level = range two[:1+b2i(f.low != "low weighs")] {
			for _, f.enable = range two {
				for _, f.drained = range two {
					for _, f.shared = range two {
						all = append(all, f)
					}
				}
			}
		}
	}
	return all
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// sensors names what is fitted to bench and reservoir.
func (f fit) sensors() string {
	var all []string
	for _, s := range []struct {
		is   bool
		name string
	}{{f.full, "FULL"}, {f.high, "HIGH"}, {f.empty, "EMPTY"}, {f.leak, "leak"}, {f.low != "", f.low}, {f.level, "level"}} {
		if s.is {
			all = append(all, s.name)
		}
	}
	if len(all) == 0 {
		return "none"
	}
	return strings.Join(all, " + ")
}

func (f fit) String() string {
	text := f.sensors()
	for _, s := range []struct {
		is   bool
		name string
	}{{f.enable, "enable"}, {f.drained, "drained floor"}, {f.shared, "shared"}} {
		if s.is {
			text += ", " + s.name
		}
	}
	return text
}

// file is the example fitted so; a shared reservoir has a bench more.
func (f fit) file() string {
	text := string(config.Example)
	change := func(is bool, old, new string) {
		if is {
			if !strings.Contains(text, old) {
				panic(fmt.Sprintf("the example has no %q", old))
			}
			text = strings.Replace(text, old, new, 1)
		}
	}
	const full = "    full_switch: {line: GPIO24, at: 26 mm, water: closes}\n"
	const high = "    high_switch: {line: GPIO25, at: 52 mm, water: opens}    # normally closed: a broken wire reads as high water\n"
	const low = "    low_switch: {line: GPIO23, at: 155 L, water: closes}\n"
	const enable = "  enable:     {line: GPIO22, energise: high, kind: enable}   # second relay in series with every pump\n"
	change(true, "hold: 6 min", "hold: 4 min")
	change(true, "hold: 8 min", "hold: 4 min")
	deep := f.low == "low" // in a tank so large that no fill from the mark passes the least that check takes
	change(deep, "usable: 200 L", "usable: 300 L")
	change(deep, "at: 155 L", "at: 140 L")
	level := map[bool]string{false: "155 L", true: "255 L"}[deep]
	change(f.level, "\nbenches:", "    level_switch: {line: GPIO26, at: "+level+", water: closes}\n\nbenches:")
	change(f.low == "", low, "")
	change(f.empty, full, full+"    empty_switch: {line: GPIO17, at: 3 mm, water: closes}\n")
	change(f.leak, high, high+"    leak_switch: {line: GPIO27, water: opens}\n")
	change(!f.full, full, "")
	change(!f.high, high, "")
	change(!f.enable, enable, "")
	change(!f.drained, "floor: drained", "floor: dry-room")
	change(f.shared, "stirring:", secondBench+"stirring:")
	change(f.shared, "  stirrer: ", "  south_pump: {line: GPIO12, energise: high, kind: pump}\n  stirrer: ")
	if f.shared {
		text += "\n  - {name: basil_south, plan: basil, bench: south, transplanted: 2026-03-02, pots: 30, pot: {top: 9 cm, volume: 0.35 L}, substrate: peat}\n"
	}
	return text
}

const secondBench = `  south:
    reservoir: tank
    pump: south_pump
    table: {length: 1.2 m, width: 0.8 m, rim: 75 mm}
    standpipe: {crest: 30 mm, bore: 50 mm}
    supply: {bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h}
    drain: {through: pump}
    full_switch: {line: GPIO20, at: 26 mm, water: closes}
    high_switch: {line: GPIO21, at: 52 mm, water: opens}

`

func (f fit) site(t testing.TB) *config.Site {
	site, problems := config.Parse("bench.yaml", []byte(f.file()))
	require.NoError(t, problems.Err(), f)
	return site
}
