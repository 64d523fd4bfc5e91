package client

import (
	"fmt"
	"io"
	"strings"

	"benchtide/cmd/benchtide/ask"
	"benchtide/controller/live"
	"benchtide/controller/texts"
)

func writeCommissioning(w io.Writer, c *live.CommissioningStatus, called texts.Titles) {
	switch {
	case c.Why != "" && c.Unattended:
		fmt.Fprintf(w, "wiring\t! floods start, though %s\n", c.Why)
	case c.Why != "":
		fmt.Fprintf(w, "wiring\t! no flood starts by itself: %s\n", c.Why)
	}
	for _, t := range c.ProofTests {
		writeProofTest(w, &t, called.Bench(t.Bench))
	}
	var open []string
	for _, o := range c.LeftOut {
		if o.Bench != nil {
			o.Step += ", " + called.Bench(*o.Bench)
		}
		open = append(open, o.Step)
	}
	if len(open) > 0 {
		fmt.Fprintf(w, "wiring\t! left out, and still to be done by \"benchtide commission --left-out\": %s\n", strings.Join(open, "; "))
	}
}

func writeProofTest(w io.Writer, t *live.ProofTest, bench string) {
	const day = "2 Jan 2006"
	switch {
	case t.Last == nil:
		fmt.Fprintf(w, "switches\t! those of %s were never proved on this wiring; holds may be shorter until they are\n", bench)
	case t.Overdue:
		fmt.Fprintf(w, "switches\t! the proof test of %s was due by %s; holds may be shorter until it is done\n", bench, ask.Clock(*t.Due, day))
	default:
		fmt.Fprintf(w, "switches\t%s proved on %s, the next proof test is due by %s\n", bench, ask.Clock(*t.Last, day), ask.Clock(*t.Due, day))
	}
}
