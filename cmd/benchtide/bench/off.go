package bench

import (
	"fmt"

	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/config"
	"benchtide/hw/gpio"
)

// Off puts every output of a site off.
type Off struct {
	cli.SiteFile
	JSON bool `help:"Print one JSON object."`
}

// Help is what its --help says beside the flags, with an example.
func (Off) Help() string {
	return `It claims every output of the site, off, and lets go of it again, also past outputs
that refuse. Stop the daemon first: it holds its lines. Of the file only the wiring
is needed. Off isolates nothing: unplug a pump before you touch it or its wires.

Example:

    benchtide off -c bench.yaml`
}

// Run puts them off. An error names those that could not be.
func (c Off) Run(s *cli.Session) error {
	name, text, err := c.Read(s)
	if err != nil {
		return err
	}
	site, err := config.Wiring(name, text)
	if err != nil {
		return err
	}
	if site.Board == config.GPIO {
		if err := gpio.Off(onsite.Wiring(site)); err != nil {
			return fmt.Errorf("put every output off: %w; check the relays by hand", err)
		}
	} else {
		s.Notice("The board is simulated: no output is wired.")
	}
	return c.print(s, site)
}

func (c Off) print(s *cli.Session, site *config.Site) error {
	if !c.JSON {
		_, err := fmt.Fprintln(s.Out, "all off")
		return err
	}
	return s.PrintJSON(struct {
		Board config.Board `json:"board"`
		Off   []string     `json:"off"`
	}{site.Board, site.OutputNames()})
}
