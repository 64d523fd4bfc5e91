package ledger

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// checkpoint is a loop.Checkpoint and the benches its indices mean.
type checkpoint struct {
	*loop.Checkpoint
	stamp
	benches []string
}

// stamp says which record a checkpoint is of, and how new it is.
type stamp struct {
	Seq    int64  `json:"seq"`       // counts the checkpoints that were handed over
	Site   string `json:"site_name"` // of the file
	Record string `json:"record"`    // identity of the record, whatever its files are called
}

// A checkpoint is stored in parts, so that a flood on one bench rewrites that
// bench and the head, not the whole site.
const (
	headPart  = "site"
	benchPart = "bench/"
	cropPart  = "crop/"
)

// head is the part of a checkpoint that belongs to no bench or batch.
type head struct {
	Controller controller.State `json:"controller"`
	Guard      safety.State     `json:"guard"`
	Names      []string         `json:"names"` // of the benches, in the order of the indices
	stamp
	Sums map[string]int64 `json:"sums"`           // of the other parts; nil in a head from before checksums
	Held map[string]held  `json:"held,omitempty"` // benches that are latched or were reset
}

type benchState struct {
	Controller controller.BenchState `json:"controller"`
	Guard      safety.BenchState     `json:"guard"`
}

// parts returns the parts of c by name, as JSON.
func (c *checkpoint) parts() (map[string]string, error) {
	values := map[string]any{}
	for name, s := range c.Controller.Benches {
		values[benchPart+name] = benchState{Controller: s, Guard: c.Guard.Benches[name]}
	}
	for name, s := range c.Guard.Benches {
		values[benchPart+name] = benchState{Controller: c.Controller.Benches[name], Guard: s}
	}
	for name, s := range c.Controller.Crops {
		values[cropPart+name] = s
	}
	parts := make(map[string]string, len(values)+1)
	for name, v := range values {
		if err := encode(parts, name, v); err != nil {
			return nil, err
		}
	}
	return parts, encode(parts, headPart, c.headOf(parts))
}

// headOf is the head that vouches for the other parts.
func (c *checkpoint) headOf(parts map[string]string) head {
	h := head{Controller: c.Controller, Guard: c.Guard, Names: c.benches, stamp: c.stamp, Sums: make(map[string]int64, len(parts))}
	h.Controller.Benches, h.Controller.Crops, h.Guard.Benches = nil, nil, nil
	for name, data := range parts {
		h.Sums[name] = partSum(name, data)
	}
	for name, s := range c.Guard.Benches {
		if said := heldOf(&s); said != (held{}) {
			if h.Held == nil {
				h.Held = make(map[string]held)
			}
			h.Held[name] = said
		}
	}
	return h
}

func encode(parts map[string]string, name string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("store part %q of the checkpoint: %w", name, err)
	}
	parts[name] = string(data)
	return nil
}

// mayWait reports whether the guard's state now differs from an older one in
// nothing that must be on storage at once: in the moment it was taken, in what is
// learnt of fills, and in that a run has ended, which until then counts as the
// longest there may be.
func mayWait(old, now *safety.State) bool {
	x := *old
	x.Mono, x.Wall, x.Trusted = now.Mono, now.Wall, now.Trusted
	x.Benches = make(map[string]safety.BenchState, len(old.Benches))
	for name, s := range old.Benches {
		n := now.Benches[name]
		s.Learnt = n.Learnt
		if last := len(s.Runs) - 1; s.Running && !n.Running && last >= 0 && len(n.Runs) == len(s.Runs) {
			s.Running, s.Runs = false, slices.Clone(s.Runs)
			s.Runs[last].Stop = n.Runs[last].Stop
		}
		x.Benches[name] = s
	}
	return reflect.DeepEqual(x, *now)
}

// reindex moves the open floods of c to the indices of benches, and returns
// those whose bench is no longer there.
func (c *checkpoint) reindex(benches []string) (orphans []flood) {
	var open []controller.Flood
	for _, f := range c.Controller.Open {
		name := ""
		if f.Bench >= 0 && f.Bench < len(c.benches) {
			name = c.benches[f.Bench]
		}
		if f.Bench = slices.Index(benches, name); f.Bench < 0 {
			orphans = append(orphans, flood{Flood: f, bench: name})
			continue
		}
		open = append(open, f)
	}
	c.Controller.Open, c.benches = open, benches
	return orphans
}
