package gpio

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchtide/hw/lines"
)

// home is where a line lives whatever number its chip has.
type home struct {
	label, address string // of the chip
	own            bool   // the chip is the processor's own
	apart          bool   // no other chip has that label at that address
	offset         uint32
}

func (d directory) home(s spot) home {
	_, apart := d.only(s)
	return home{s.chip.label, s.chip.address, s.chip.own, apart, s.offset}
}

// directory is all lines of the machine at one moment.
type directory struct {
	chips  []chip
	named  map[string][]spot
	alias  func(name string) (gpio int, ok bool) // a Raspberry Pi's line by another name
	silent error                                 // of chips and lines that could not be asked
}

// spot is a line found: its chip now, and its offset.
type spot struct {
	chip   chip
	offset uint32
}

func (s spot) lineID() lineID { return lineID{s.chip.device, s.offset} }

func (s spot) line() lines.Line {
	return lines.Line{Chip: s.chip.label, Offset: s.offset}
}

// directory asks every chip, and every line for its name.
func (h host) directory() directory {
	chips, err := h.chips()
	d := directory{chips: chips, named: map[string][]spot{}, alias: h.alias, silent: err}
	for _, c := range chips {
		for n := range c.lines {
			info, err := h.kernel.Info(lineID{c.device, n})
			if err != nil {
				d.silent = err
			} else if info.name != "" {
				d.named[info.name] = append(d.named[info.name], spot{c, n})
			}
		}
	}
	return d
}

// find returns where a line is. What it says of one that it cannot find, or
// finds more than once, is the cause and the remedy of a refusal.
func (d directory) find(l lines.Line) (spot, *refusal) {
	switch {
	case !l.Fitted():
		return spot{}, &refusal{cause: "no line is named", fix: "name one, as in line: GPIO5"}
	case l.Chip != "":
		return d.byChip(l)
	case l.Pin != 0:
		return d.byPin(l.Pin)
	}
	return d.byName(l.Name)
}

func (d directory) byName(name string) (spot, *refusal) {
	found := slices.Clone(d.named[name])
	if n, ok := d.number(name, found); ok {
		for _, s := range d.pi(n) {
			if !slices.Contains(found, s) {
				found = append(found, s)
			}
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return spot{}, d.missing("this machine has no line of that name"+d.known(name),
			"correct the name; benchtide lines shows every line of this machine")
	}
	return spot{}, d.doubled(fmt.Sprintf("%d lines have that name", len(found)), found)
}

// number reads the GPIO number of a Raspberry Pi's line out of its name. What
// periph calls it is asked last, and only where the kernel has no such name.
func (d directory) number(name string, found []spot) (uint32, bool) {
	digits, ok := strings.CutPrefix(name, "GPIO")
	if n, err := strconv.ParseUint(digits, 10, 16); ok && err == nil && digits == strconv.FormatUint(n, 10) {
		return uint32(n), true
	}
	if len(found) > 0 || d.alias == nil {
		return 0, false
	}
	n, ok := d.alias(name)
	return uint32(n), ok
}

// pi lists the lines with that number on chips of a Raspberry Pi's header.
func (d directory) pi(number uint32) (found []spot) {
	for _, c := range d.chips {
		if lines.PiChip(c.label) && number < c.lines {
			found = append(found, spot{c, number})
		}
	}
	return found
}

func (d directory) byPin(pin int) (spot, *refusal) {
	var found []spot
	for name, at := range d.named {
		if lines.AtPin(name, pin) {
			found = append(found, at...)
		}
	}
	n, none := lines.HeaderPin(pin)
	isPi := slices.ContainsFunc(d.chips, func(c chip) bool { return lines.PiChip(c.label) })
	if len(found) == 0 && isPi {
		if none != nil {
			return spot{}, &refusal{cause: none.Error(), fix: "choose a pin that has a line; benchtide lines shows them"}
		}
		found = d.pi(uint32(n))
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return spot{}, d.missing("this board does not say which lines are at the pins of its header",
			"look the line up in the board's manual and write its name, or its chip and offset, as benchtide lines shows them")
	}
	return spot{}, d.doubled(fmt.Sprintf("%d lines say that they are at that pin", len(found)), found)
}

func (d directory) byChip(l lines.Line) (spot, *refusal) {
	alike := d.labelled(l.Chip)
	if len(alike) == 0 {
		return spot{}, d.missing("this machine has no chip with that label; it has "+labels(d.chips),
			"correct the label, or look to the chip's plug and supply")
	}
	there := slices.DeleteFunc(slices.Clone(alike), func(c chip) bool {
		return l.Address != "" && !lines.SameAddress(l.Address, c.address)
	})
	switch {
	case len(there) == 0:
		return spot{}, d.missing("no chip with that label is at that address; "+addresses(alike),
			"correct the address, or look to the chip's plug and supply")
	case len(there) > 1:
		var found []spot
		for _, c := range there {
			found = append(found, spot{c, l.Offset})
		}
		return spot{}, d.doubled(fmt.Sprintf("%d chips have that label", len(there)), found)
	case l.Offset >= there[0].lines:
		return spot{}, &refusal{
			cause: fmt.Sprintf("that chip has lines 0 to %d", there[0].lines-1),
			fix:   "correct the offset; benchtide lines shows them",
		}
	}
	return spot{there[0], l.Offset}, nil
}

// missing refuses what is not there, unless it may be where nobody answered:
// then that is the trouble.
func (d directory) missing(cause, fix string) *refusal {
	if d.silent != nil {
		return explain("", d.silent, "")
	}
	return &refusal{cause: cause, fix: fix}
}

func (d directory) labelled(label string) []chip {
	return slices.DeleteFunc(slices.Clone(d.chips), func(c chip) bool { return c.label != label })
}

// doubled refuses what is found more than once, and shows how each would be
// written so that it alone is meant.
func (d directory) doubled(cause string, found []spot) *refusal {
	var ways []string
	for _, s := range found {
		way, ok := d.only(s)
		if !ok {
			return &refusal{cause: cause + ", on chips that nothing tells apart",
				fix: "take a line of another chip, or have the chips labelled otherwise by the board's device tree"}
		}
		ways = append(ways, way.Written())
	}
	slices.Sort(ways)
	return &refusal{cause: cause, fix: "say which is meant: line: " + strings.Join(ways, " or line: ")}
}

// only is a way of writing a line by which no other is meant; false when there
// is none.
func (d directory) only(s spot) (lines.Line, bool) {
	l := s.line()
	if !lines.IsLabel(l.Chip) {
		return l, false
	}
	alike := d.labelled(s.chip.label)
	if len(alike) == 1 {
		return l, true
	}
	l.Address = s.chip.address
	there := slices.DeleteFunc(alike, func(c chip) bool { return !lines.SameAddress(l.Address, c.address) })
	return l, l.Address != "" && len(there) == 1
}

// known names the first and the last line whose name begins with the same
// letters, as a hint at what there is.
func (d directory) known(wanted string) string {
	letters := strings.TrimRight(wanted, "0123456789")
	var alike []string
	for name := range d.named {
		if strings.TrimRight(name, "0123456789") == letters && name != letters {
			alike = append(alike, name)
		}
	}
	if len(alike) == 0 {
		return ""
	}
	slices.SortFunc(alike, func(a, b string) int {
		if len(a) != len(b) {
			return len(a) - len(b)
		}
		return strings.Compare(a, b)
	})
	if len(alike) == 1 {
		return fmt.Sprintf(" (it has %s)", alike[0])
	}
	return fmt.Sprintf(" (it has %s to %s)", alike[0], alike[len(alike)-1])
}

func labels(chips []chip) string {
	var all []string
	for _, c := range chips {
		all = append(all, strconv.Quote(c.label))
	}
	slices.Sort(all)
	return strings.Join(slices.Compact(all), ", ")
}

func addresses(chips []chip) string {
	var all []string
	for _, c := range chips {
		if c.address != "" {
			all = append(all, c.address)
		}
	}
	if len(all) == 0 {
		return "this machine does not say where it is"
	}
	slices.Sort(all)
	return "it is at " + strings.Join(all, " and ")
}

// again finds a line on its chip as the chip is to be had now, by its label and its
// address: while it is gone, another one with that label is not it. One that nothing
// told apart from another is not found again.
func (h host) again(at home) (lineID, error) {
	chips, err := h.chips()
	same := slices.DeleteFunc(chips, func(c chip) bool {
		return !at.apart || c.label != at.label || c.own != at.own || c.address != at.address
	})
	if len(same) == 1 && at.offset < same[0].lines {
		return lineID{same[0].device, at.offset}, nil
	}
	return lineID{}, errors.Join(fmt.Errorf("find chip %q again: %w", at.label, errGone), err)
}
