package campaign

import (
	"fmt"
	"strings"
)

// lines hands out the lines of the board.
type lines struct{ n int }

func (l *lines) next() string {
	l.n++
	return fmt.Sprintf("GPIO%d", 8+l.n)
}

// text writes the file.
func (d *draft) text() string {
	var b strings.Builder
	var l lines
	put := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	put("site: {name: Drawn by lot, %s, floor: %s%s}", d.place, d.floor, d.climate)
	put("board: simulated\n\noutputs:")
	d.outputs(put, &l)
	d.reservoirs(put, &l)
	put("\nbenches:")
	for i := range d.benches {
		d.benches[i].write(put, &l, i)
	}
	if d.stirred {
		put("\nstirring:")
		for k := range d.tanks {
			put("  - {output: stirrer%d, reservoir: tank%d, before_flood: 8 min}", k+1, k+1)
		}
	}
	if d.air {
		put("\naeration: {output: air, always: true}")
	}
	if d.buzzer {
		put("\nbuzzer: {output: buzzer, before_start: 10 s}")
	}
	if d.button {
		put("\nhands_in_button: {line: %s, pressed: closes}", l.next())
	}
	var batches []string
	for _, of := range d.batches {
		batches = append(batches, of.line())
	}
	put("\nplans:\n%s\nbatches:\n%s", strings.Join(d.plans, ""), strings.Join(batches, "\n"))
	return b.String()
}

func (d *draft) reservoirs(put func(string, ...any), l *lines) {
	put("\nreservoirs:")
	for k, t := range d.tanks {
		put("  tank%d:\n    usable: %.1f L\n    keep: %.1f L", k+1, t.usable, t.keep)
		if t.low > 0 {
			put("    low_switch: {line: %s, at: %.1f L, water: closes}", l.next(), t.low)
		}
		if t.level > 0 {
			put("    level_switch: {line: %s, at: %.1f L, water: closes}", l.next(), t.level)
		}
		if t.inside != "" {
			put("    inside: %s", t.inside)
		}
		if t.warm {
			put("    thermometer: {path: /sys/bus/w1/devices/28-%012d/temperature}", k+1)
		}
	}
}

func (d *draft) outputs(put func(string, ...any), l *lines) {
	for n := range d.enables {
		put("  enable%d: {line: %s, energise: high, kind: enable}", n+1, l.next())
	}
	behind := func(n int) string {
		if d.enables < 2 {
			return ""
		}
		return fmt.Sprintf(", behind: enable%d", min(n, d.enables-1)+1)
	}
	for i := range d.benches {
		put("  pump%d: {line: %s, energise: high, kind: pump%s}", i+1, l.next(), behind(i))
	}
	if d.stirred {
		for k := range d.tanks {
			put("  stirrer%d: {line: %s, energise: high, kind: pump%s}", k+1, l.next(), behind(k))
		}
	}
	if d.air {
		put("  air: {line: %s, energise: high, kind: air}", l.next())
	}
	if d.buzzer {
		put("  buzzer: {line: %s, energise: high, kind: buzzer}", l.next())
	}
}

func (b *draftBench) write(put func(string, ...any), l *lines, i int) {
	put("  bench%d:\n    reservoir: tank%d\n    pump: pump%d", i+1, b.tank+1, i+1)
	put("    table: {length: %.2f m, width: %.2f m, rim: %.0f mm}", b.length, b.width, b.rim)
	put("    standpipe: {crest: %.0f mm, bore: %.0f mm}", b.crest, b.bore)
	put("    supply: {bore: %.0f mm, length: %.1f m, lift: %.2f m, max_head: %.2f m, max_flow: %.0f L/h}", b.pipe, b.hose, b.lift, b.head, b.flow)
	switch {
	case b.throughPump:
		put("    drain: {through: pump}")
	case b.open:
		put("    drain: {bore: %.0f mm, length: %.2f m, open: always}", b.drainBore, b.drainLength)
	default:
		put("    drain: {bore: %.0f mm, length: %.2f m}", b.drainBore, b.drainLength)
	}
	if b.full {
		put("    full_switch: {line: %s, at: %.0f mm, water: closes}", l.next(), b.crest-4)
	}
	if b.high {
		put("    high_switch: {line: %s, at: %.0f mm, water: opens}", l.next(), b.crest+b.highShare*(b.rim-b.crest))
	}
	if b.empty {
		put("    empty_switch: {line: %s, at: 3 mm, water: closes}", l.next())
	}
	if b.leak {
		put("    leak_switch: {line: %s, water: opens}", l.next())
	}
}
