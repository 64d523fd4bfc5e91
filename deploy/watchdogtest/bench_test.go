//go:build watchdogtest

package watchdogtest

import (
	"fmt"
	"strings"

	"benchtide/controller/config"
	"benchtide/deploy/boardtest/console"
)

// bench is one of the site, and how it is reached from outside.
type bench struct {
	name   string
	pump   string // its pump's line, as the file has it
	high   bool   // the level that energises the pump
	full   string
	danger string       // HIGH's line
	seen   console.Seen // the pump on
	enable console.Seen // the enable relay on
	floats [2]string    // FULL and HIGH, from outside
}

// benches hang on the chips of a machine: their enable relays on the header of a
// Raspberry Pi 5, and but for one their switches too.
func (c *chips) benches() []bench {
	rp1 := func(n int) string { return fmt.Sprintf("%s/%d", c.device["rp1"], n) }
	all := []bench{
		{name: "header", pump: "{pin: 29}", seen: console.Seen{Line: rp1(5)}},
		{name: "tray", pump: "{chip: tray-a, offset: 3}", high: true,
			seen: console.Seen{Line: c.device["tray-a"] + "/3", High: true}},
		{name: "twin", high: true,
			pump: fmt.Sprintf("{chip: tray, address: %s, offset: 2}", c.device["twin-b"]),
			seen: console.Seen{Line: c.device["twin-b"] + "/2", High: true}},
		{name: "switches", pump: "GPIO6", seen: console.Seen{Line: rp1(6)}},
	}
	for i := range all {
		b := &all[i]
		b.enable = console.Seen{Line: rp1(16 + i), High: true}
		b.full, b.danger = fmt.Sprint("GPIO", 7+i), fmt.Sprint("GPIO", 22+i)
		b.floats = [2]string{rp1(7 + i), rp1(22 + i)}
	}
	own := &all[3]
	own.full, own.danger = "{chip: floats, offset: 0}", "{chip: floats, offset: 1}"
	own.floats = [2]string{c.device["floats"] + "/0", c.device["floats"] + "/1"}
	return all
}

// siteOf has an air pump on a chip whose lines do not move, and a flood every three
// minutes from ten o'clock on.
func siteOf(all []bench, stuck string) string {
	var outputs, reservoirs, benches, batches strings.Builder
	for i, b := range all {
		energise := map[bool]string{true: "high", false: "low"}[b.high]
		fmt.Fprintf(&outputs, "  enable_%s: {line: GPIO%d, energise: high, kind: enable}\n", b.name, 16+i)
		fmt.Fprintf(&outputs, "  pump_%s: {line: %s, energise: %s, kind: pump, behind: enable_%s}\n", b.name, b.pump, energise, b.name)
		fmt.Fprintf(&reservoirs, "  tank_%s: {usable: 30 L, keep: 5 L}\n", b.name)
		fmt.Fprintf(&benches, `  %s:
    reservoir: tank_%s
    pump: pump_%s
    table: {length: 0.3 m, width: 0.2 m, rim: 75 mm}
    standpipe: {crest: 30 mm, bore: 50 mm}
    supply: {bore: 25 mm, length: 1.5 m, lift: 0.9 m, max_head: 2.2 m, max_flow: 1800 L/h}
    drain: {through: pump}
    full_switch: {line: %s, at: 26 mm, water: closes}
    high_switch: {line: %s, at: 52 mm, water: opens}
`, b.name, b.name, b.name, b.full, b.danger)
		fmt.Fprintf(&batches, "  - {name: cress_%s, plan: cress, bench: %s, transplanted: 2026-03-02, pots: 4, pot: {top: 6 cm, volume: 0.1 L}, substrate: peat}\n", b.name, b.name)
	}
	return fmt.Sprintf(`site: {name: Chip test, timezone: UTC, floor: dry-room}
board: gpio
outputs:
  air: {line: {chip: %q, offset: 0}, energise: low, kind: air}
%s
aeration: {output: air, always: true}
reservoirs:
%s
benches:
%s
plans:
  cress:
    - {from_day: 0, cron: "*/3 10 * * *", hold: 5 s, strength: 25 %%, can_wait: 720 h}
batches:
%s`, stuck, &outputs, &reservoirs, &benches, &batches)
}

// tables are the benches as water sees them.
func tables(s *config.Site, all []bench) []console.Table {
	limits := s.Limits()
	var ts []console.Table
	for i, b := range all {
		ts = append(ts, console.Table{Pump: b.seen, Enable: b.enable, Full: b.floats[0], High: b.floats[1],
			FillS: limits.Benches[i].Fill.Seconds(), FallS: limits.Benches[i].Fill.Seconds()})
	}
	return ts
}
