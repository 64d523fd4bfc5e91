package offline

import (
	"fmt"
	"strings"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config/reference"
	"benchtide/controller/quantity"
	"benchtide/hw/sim"
)

// Explain tells what belongs at a key of the file.
type Explain struct {
	Site     siteUnits `embed:""`
	Key      string    `arg:"" optional:"" help:"A key of the file, or units, crops, substrates, kinds, faults, nature or spans; all keys without one."`
	Schema   bool      `xor:"form" help:"Print a JSON Schema of the file, for editors."`
	Markdown bool      `xor:"form" help:"Print the reference of all keys in Markdown."`
	Manual   bool      `xor:"form" help:"Print it as a manual page."`
}

// Help is what its --help says beside the flags, with an example.
func (Explain) Help() string {
	return `What belongs at a key of the file: how it is written, between which values, what
holds without it, and where one measures it.

Examples:

    benchtide explain benches.NAME.table.rim
    benchtide explain rim
    benchtide explain units
    benchtide explain --schema > bench.schema.json`
}

// topics are what there is to explain beside keys.
var topics = map[string]func(quantity.Units) string{
	"spans": plain(reference.Spans), "units": reference.Units, "crops": plain(reference.Crops), "substrates": plain(reference.Substrates), "kinds": plain(reference.Kinds), "faults": faults, "nature": plain(natures),
}

// plain is a topic without quantities.
func plain(topic func() string) func(quantity.Units) string {
	return func(quantity.Units) string { return topic() }
}

func faults(u quantity.Units) string {
	var b strings.Builder
	for _, f := range sim.Described() {
		fmt.Fprintf(&b, "%-21s %-26s %s\n", f.Name, f.Where, u.Example(f.Does))
	}
	return b.String()
}

// natures tells what a rehearsal may leave to chance, and within which spans.
func natures() string {
	var b strings.Builder
	for _, name := range sim.Natures() {
		n, _ := sim.NatureNamed(name)
		fmt.Fprintf(&b, "%s\n\n", name)
		if len(n.Rows) == 0 {
			b.WriteString("Nothing: the simulated bench is the one in the file.\n")
		}
		fmt.Fprintf(&b, "%s\n", sim.NatureText(n))
	}
	return b.String()
}

// Run prints what was asked for; a key that there is not is an error with the
// nearest ones.
func (c Explain) Run(s *cli.Session) error {
	text, err := c.text()
	if err != nil {
		return err
	}
	_, err = fmt.Fprint(s.Out, text)
	return err
}

func (c Explain) text() (string, error) {
	u, err := c.Site.units()
	if err != nil {
		return "", err
	}
	switch topic := topics[strings.ToLower(c.Key)]; {
	case c.Schema:
		schema, err := reference.Schema()
		return string(schema), err
	case c.Markdown:
		return reference.Page(), nil
	case c.Manual:
		return reference.Manual(), nil
	case topic != nil:
		return topic(u), nil
	}
	text, err := reference.Explain(c.Key, u)
	if err != nil {
		return "", cli.Usage(err)
	}
	return text, nil
}
