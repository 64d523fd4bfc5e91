package bench

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"text/tabwriter"

	"benchtide/cmd/benchtide/cli"
	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/config"
	"benchtide/hw/gpio"
	"benchtide/hw/lines"
)

// Lines lists the GPIO lines of the machine.
type Lines struct {
	cli.SiteFile
	JSON bool `help:"Print one JSON object."`
}

// Help is what its --help says beside the flags, with an example.
func (Lines) Help() string {
	return `Every GPIO line of this machine: its chip by label, its offset there and its name, how
the file has it, who holds it, which way a Raspberry Pi pulls it at power-on, what else
it serves, and what the site's file has on it. It asks the kernel and touches no line.

Write a line as the column says. A name is enough where no other line has it; else it is
{chip: LABEL, offset: N}. A pin of a Raspberry Pi's header may be written {pin: 29}.

Examples:

    benchtide lines
    benchtide lines -c bench.yaml --json`
}

// Run prints the lines. It is cli.ErrNo where the file wants lines that are not
// there, or some could not be asked.
func (c Lines) Run(s *cli.Session) error {
	wired, err := c.wiring(s)
	if err != nil {
		return err
	}
	listing, err := gpio.List(wired)
	if err != nil {
		return fmt.Errorf("list the lines: %w", err)
	}
	if c.JSON {
		err = s.PrintJSON(linesJSON(listing))
	} else {
		err = printLines(s.Out, listing)
	}
	if err == nil && (len(listing.Missing) > 0 || listing.Unasked != nil) {
		return cli.ErrNo
	}
	return err
}

// wiring is that of the file. Who looks for lines may not have a file yet, or
// one that is not whole.
func (c Lines) wiring(s *cli.Session) (gpio.Config, error) {
	if _, err := os.Stat(cli.UsualFile); c.Config == "" && errors.Is(err, fs.ErrNotExist) {
		s.Notice("No -c FILE and no ./%s: what a site has on these lines is left out.", cli.UsualFile)
		return gpio.Config{}, nil
	}
	name, text, err := c.Read(s)
	if err != nil {
		return gpio.Config{}, err
	}
	site, err := config.Wiring(name, text)
	if err != nil {
		s.Notice("%v\nThe file is left out until that is put right.", err)
		return gpio.Config{}, nil
	}
	return onsite.Wiring(site), nil
}

func printLines(w io.Writer, l gpio.Listing) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for i, c := range l.Chips {
		if i > 0 {
			fmt.Fprintln(t)
		}
		fmt.Fprintf(t, "%s\n", chipTitle(c))
		fmt.Fprintf(t, "  offset\tname\tin the file\theld by\tpower-on pull\talso serves\ton it\n")
		for _, line := range c.Lines {
			fmt.Fprintf(t, "  %d\t%s\t%s\t%s\t%s\t%s\t%s\n", line.Offset, dash(line.Name), inFile(line), holder(line),
				dash(pullOf(line)), dash(secondJob(line)), dash(strings.Join(line.Ours, ", ")))
		}
	}
	for _, m := range l.Missing {
		fmt.Fprintf(t, "\n%s\n", m)
	}
	if l.Unasked != nil {
		fmt.Fprintf(t, "\n%s\n", l.Unasked)
	}
	return t.Flush()
}

func chipTitle(c gpio.ChipLines) string {
	where := "the processor's own"
	if !c.Own {
		where = "an expander: its outputs are read back, and it takes no enable relay"
	}
	at := ""
	if c.Address != "" {
		at = " at " + c.Address
	}
	return fmt.Sprintf("chip %q%s, for now %s: %s", c.Label, at, c.Device, where)
}

func dash(text string) string { return cmp.Or(text, "-") }

func inFile(l gpio.LineInfo) string {
	if !l.Write.Fitted() {
		return "nothing tells it apart"
	}
	return l.Write.Written()
}

func holder(l gpio.LineInfo) string {
	switch {
	case !l.Used:
		return "-"
	case l.Holder == "":
		return "the kernel"
	}
	return l.Holder
}

func pullOf(l gpio.LineInfo) string {
	switch {
	case l.Header < 0:
		return ""
	case lines.PulledUp(l.Header):
		return "up"
	}
	return "down"
}

func secondJob(l gpio.LineInfo) string {
	if l.Header < 0 {
		return ""
	}
	return lines.SecondJob(l.Header)
}

type chipJSON struct {
	Label   string     `json:"label"`
	Address string     `json:"address"`
	Device  string     `json:"device"`
	Own     bool       `json:"own"`
	Lines   []lineJSON `json:"lines"`
}

type lineJSON struct {
	Offset uint32   `json:"offset"`
	Name   string   `json:"name"`
	Write  string   `json:"write"`
	Held   bool     `json:"held"`
	Holder string   `json:"holder"`
	Pull   string   `json:"pull"`
	Serves string   `json:"serves"`
	Pin    int      `json:"pin"`
	Ours   []string `json:"ours"`
}

type listingJSON struct {
	Chips   []chipJSON `json:"chips"`
	Missing []string   `json:"missing"`
	Unasked string     `json:"unasked"` // why a line could not be asked; "" when all were
}

func linesJSON(l gpio.Listing) listingJSON {
	all := listingJSON{Chips: []chipJSON{}, Missing: []string{}}
	for _, c := range l.Chips {
		chip := chipJSON{Label: c.Label, Address: c.Address, Device: c.Device, Own: c.Own, Lines: []lineJSON{}}
		for _, line := range c.Lines {
			one := lineJSON{Offset: line.Offset, Name: line.Name, Held: line.Used, Holder: line.Holder,
				Pull: pullOf(line), Serves: secondJob(line), Ours: append([]string{}, line.Ours...)}
			if line.Write.Fitted() {
				one.Write = line.Write.Written()
			}
			if line.Header >= 0 {
				one.Pin = lines.PinOf(line.Header)
			}
			chip.Lines = append(chip.Lines, one)
		}
		all.Chips = append(all.Chips, chip)
	}
	for _, m := range l.Missing {
		all.Missing = append(all.Missing, m.Error())
	}
	if l.Unasked != nil {
		all.Unasked = l.Unasked.Error()
	}
	return all
}
