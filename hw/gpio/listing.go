package gpio

import (
	"cmp"
	"slices"

	"benchtide/hw/lines"
)

// ChipLines is one GPIO chip of this machine with its lines.
type ChipLines struct {
	Device  string // for now: another boot may number it otherwise
	Label   string
	Address string // of its device, such as 1-0020; "" when unknown
	Own     bool   // the processor's own, not behind a bus
	Lines   []LineInfo
}

// LineInfo is one line of a chip.
type LineInfo struct {
	Offset uint32
	Name   string     // "" when the kernel has none
	Write  lines.Line // how a file means this line and no other; none when it cannot
	Used   bool
	Holder string // who holds it; "" when that is the kernel itself
	Header int    // GPIO number on a Raspberry Pi's header; -1 when it is none of them
	Ours   []string
}

// Listing is every line of this machine, and what the wiring has of them.
// Missing are the uses whose line was not found, each with the reason. Unasked is
// why a chip or a line could not be asked, and what to do about it; nil when all
// answered.
type Listing struct {
	Chips   []ChipLines
	Missing []error
	Unasked error
}

// List asks this machine for all its lines. It touches none.
func List(c Config) (Listing, error) {
	h, err := systemHost()
	if err != nil {
		return Listing{}, err
	}
	return listOn(h, c), nil
}

func listOn(h host, c Config) Listing {
	d := h.directory()
	var l Listing
	if d.silent != nil {
		l.Unasked = explain("not every line could be asked", d.silent, "")
	}
	ours := map[lineID][]string{}
	for _, w := range wants(c.Outputs, c.fitted()) {
		found, refused := d.find(w.line)
		if refused != nil {
			refused.what = w.String()
			l.Missing = append(l.Missing, refused)
			continue
		}
		ours[found.lineID()] = append(ours[found.lineID()], w.use)
	}
	for _, chip := range d.chips {
		l.Chips = append(l.Chips, d.listed(h, chip, ours))
	}
	slices.SortStableFunc(l.Chips, func(a, b ChipLines) int {
		return cmp.Or(cmp.Compare(a.Label, b.Label), cmp.Compare(a.Address, b.Address))
	})
	return l
}

func (d directory) listed(h host, c chip, ours map[lineID][]string) ChipLines {
	all := ChipLines{Device: c.device, Label: c.label, Address: c.address, Own: c.own}
	for n := range c.lines {
		at := spot{c, n}
		info, err := h.kernel.Info(at.lineID())
		if err != nil {
			continue // it went meanwhile
		}
		one := LineInfo{Offset: n, Name: info.name, Write: d.written(at, info.name), Used: info.used, Holder: info.consumer, Header: -1, Ours: ours[at.lineID()]}
		if number, ok := at.line().GPIO(); ok {
			one.Header = number
		}
		all.Lines = append(all.Lines, one)
	}
	return all
}

// written is how a line is best written: by its name where no other has it.
func (d directory) written(at spot, name string) lines.Line {
	if name != "" {
		if found, refused := d.find(lines.Named(name)); refused == nil && found == at && lines.IsName(name) {
			return lines.Named(name)
		}
	}
	way, ok := d.only(at)
	if !ok {
		return lines.Line{}
	}
	return way
}
