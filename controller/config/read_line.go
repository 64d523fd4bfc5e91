package config

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchtide/hw/lines"
)

// line reads where an output or a switch is wired: by the kernel's name, by
// chip and offset, or by a pin of the header.
func (f fields) line() (l lines.Line) {
	v, ok := f.need("line")
	switch {
	case !ok:
	case v.node.Kind == yaml.MappingNode:
		return v.fields().wired()
	default:
		l, _ = scalar(v, namedLine)
	}
	return l
}

// wired reads a line that is written as a mapping.
func (f fields) wired() lines.Line {
	if _, ok := f.get("pin"); ok {
		for _, other := range []string{"chip", "address", "offset"} {
			if v, both := f.get(other); both {
				v.errorf("a line is given by its pin or by its chip and offset, not by both: leave one out")
				return lines.Line{}
			}
		}
		return lines.Line{Pin: plain(f, "pin", headerPin)}
	}
	f.need("chip")
	f.need("offset")
	l := lines.Line{Chip: plain(f, "chip", chipLabel), Address: plain(f, "address", words), Offset: plain(f, "offset", lineOffset)}
	if l.Chip == "" {
		return lines.Line{}
	}
	return l
}

var spelledPin = regexp.MustCompile(`(?i)^pin[ _]*([0-9]+)$`)

func namedLine(text string) (lines.Line, error) {
	if m := spelledPin.FindStringSubmatch(text); m != nil && strings.Contains(text, " ") {
		n, err := headerPin(m[1])
		return lines.Line{Pin: n}, err
	}
	if bareNumber.MatchString(text) {
		return lines.Line{}, fmt.Errorf("%q: a line has a name, as the kernel gives it: did you mean GPIO%s?", text, text)
	}
	if text == "" || strings.ContainsAny(text, " \t\n") {
		return lines.Line{}, fmt.Errorf("%q: name the line as the board does, such as GPIO5; one whose name has a space in it is written {chip: LABEL, offset: N}, as benchtide lines shows them", text)
	}
	return lines.Named(text), nil
}

func headerPin(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("%q: write the number of a pin of the header, such as 29", text)
	}
	return n, nil
}

func chipLabel(text string) (string, error) {
	switch {
	case text == "":
		return "", fmt.Errorf("%q: write the label of the chip, as benchtide lines shows it", text)
	case lines.IsDevice(text):
		return "", fmt.Errorf("%q: chips are given by their label, since another boot may number them otherwise: benchtide lines shows the labels", text)
	}
	return text, nil
}

func lineOffset(text string) (uint32, error) {
	n, err := strconv.ParseUint(text, 10, 32)
	if err != nil {
		return 0, fmt.Errorf("%q: write the number of the line on its chip, counted from 0", text)
	}
	return uint32(n), nil
}
