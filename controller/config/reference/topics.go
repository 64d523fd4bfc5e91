package reference

import (
	"fmt"
	"strings"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
)

// written are the kinds of quantity, in the order of the reference.
var written = []quantity.Written{quantity.Lengths, quantity.Volumes, quantity.Flows, quantity.Temperatures, quantity.Fractions, quantity.Times}

// Spans tells what the spans of a bench sheet come from.
func Spans() string {
	return "Nine in ten of the benches that are as their file says have a figure within its span.\nWhat the file cannot tell lies anywhere between two values:\n\n" + config.SpanInputs()
}

// Substrates lists what may fill the pots.
func Substrates() string {
	var b strings.Builder
	b.WriteString("Water and air are shares of the volume after it has drained. A pot that is lower than\nthe column in which that was measured holds more water, a taller one less.\n\n")
	fmt.Fprintf(&b, "%-10s %6s %6s\n", "substrate", "water", "air")
	for _, s := range config.Substrates() {
		fmt.Fprintf(&b, "%-10s %6s %6s\n", s.Name, quantity.In(quantity.Fraction(s.Water), quantity.Percent), quantity.In(quantity.Fraction(s.Air), quantity.Percent))
	}
	return b.String()
}

// Crops lists what may grow.
func Crops() string {
	var b strings.Builder
	b.WriteString("The factor is how much water a full cover of leaves takes, of what grass takes under\nthe same sky; the days are until leaves cover the bench, unless covered_on_day says so.\n\n")
	fmt.Fprintf(&b, "%-17s %6s %5s\n", "crop", "factor", "days")
	for _, c := range config.Crops() {
		fmt.Fprintf(&b, "%-17s %6.2f %5d\n", c.Name, c.Full, c.Days)
	}
	return b.String()
}

// Kinds lists the kinds of output.
func Kinds() string {
	var b strings.Builder
	for _, k := range config.OutputKinds() {
		fmt.Fprintf(&b, "%-8s %s\n", k.Kind, k.Is)
	}
	return b.String()
}
