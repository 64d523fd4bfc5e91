package config

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
)

// Fingerprint identifies the wiring: board, outputs and switches. What was
// proven about the wiring of one fingerprint says nothing about another. It is
// the SHA-256, in hexadecimal, of a canonical text, so neither the order of the
// file nor anything in it that is no wiring changes it.
func (s *Site) Fingerprint() string {
	lines := s.wiring()
	slices.Sort(lines)
	sum := sha256.Sum256([]byte(strings.Join(lines, "\n")))
	return hex.EncodeToString(sum[:])
}

// wiring describes each output, pump and switch on a line of its own.
func (s *Site) wiring() []string {
	lines := []string{fmt.Sprintf("board %s", s.Board)}
	for _, o := range s.Outputs {
		enable := "none"
		if o.Enable >= 0 {
			enable = s.Outputs[o.Enable].Name
		}
		lines = append(lines, fmt.Sprintf("outputs.%s line %s high %t kind %s behind %s", o.Name, o.Line.Key(), o.EnergiseHigh, o.Kind, enable))
	}
	for _, b := range s.Benches {
		lines = append(lines, fmt.Sprintf("%s %s", b.path(".pump"), s.Outputs[b.Pump].Name))
	}
	for _, f := range s.switches() {
		lines = append(lines, fmt.Sprintf("%s line %s closes %t pull %s", f.path, f.Line.Key(), f.Closes, f.Pull))
	}
	return lines
}

// fitted is a switch and where the file describes it.
type fitted struct {
	*Switch
	path string
}

// switches lists every switch of the site.
func (s *Site) switches() []fitted {
	var all []fitted
	for _, r := range s.Reservoirs {
		all = append(all, fitted{r.Low, r.path(".low_switch")}, fitted{r.Level, r.path(".level_switch")})
	}
	for _, b := range s.Benches {
		all = append(all, fitted{b.Full, b.path(".full_switch")}, fitted{b.High, b.path(".high_switch")},
			fitted{b.Empty, b.path(".empty_switch")}, fitted{b.Leak, b.path(".leak_switch")})
	}
	all = append(all, fitted{s.HandsIn, "hands_in_button"})
	return slices.DeleteFunc(all, func(f fitted) bool { return f.Switch == nil })
}
