package config

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
)

// Fingerprint identifies the wiring: board, outputs and switches. What was
// proven about the wiring of one fingerprint says nothing about another. It is
// the SHA-256, in hexadecimal, of a canonical text, so neither order of keys
// nor comments nor anything that is no wiring changes it.
func (s *Site) Fingerprint() string {
	h := sha256.New()
	s.writeWiring(h)
	return hex.EncodeToString(h.Sum(nil))
}

func (s *Site) writeWiring(w io.Writer) {
	contact := func(path string, sw *Switch) {
		if sw != nil {
			fmt.Fprintf(w, "switch %s line %s closes %t pull %s\n", path, strings.ToUpper(sw.Line), sw.Closes, sw.Pull)
		}
	}
	fmt.Fprintf(w, "board %s\n", s.Board)
	for _, o := range s.Outputs {
		fmt.Fprintf(w, "output %s line %s high %t kind %s", o.Name, strings.ToUpper(o.Line), o.EnergiseHigh, o.Kind)
		if o.Enable >= 0 {
			fmt.Fprintf(w, " behind %s", s.Outputs[o.Enable].Name)
		}
		fmt.Fprintln(w)
	}
	for _, r := range s.Reservoirs {
		contact(r.path(".low_switch"), r.Low)
	}
	for _, b := range s.Benches {
		fmt.Fprintf(w, "bench %s pump %s\n", b.Name, s.Outputs[b.Pump].Name)
		contact(b.path(".full_switch"), b.Full)
		contact(b.path(".high_switch"), b.High)
		contact(b.path(".empty_switch"), b.Empty)
		contact(b.path(".leak_switch"), b.Leak)
	}
	contact("hands_in_button", s.HandsIn)
}
