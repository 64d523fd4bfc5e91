package ledger

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// checkpoint is a loop.Checkpoint and the benches its indices mean.
type checkpoint struct {
	*loop.Checkpoint
	benches []string
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
}

type benchState struct {
	Controller controller.BenchState `json:"controller"`
	Guard      safety.BenchState     `json:"guard"`
}

// parts returns the parts of c by name, as JSON.
func (c *checkpoint) parts() (map[string]string, error) {
	h := head{Controller: c.Controller, Guard: c.Guard, Names: c.benches}
	h.Controller.Benches, h.Controller.Crops, h.Guard.Benches = nil, nil, nil
	values := map[string]any{headPart: h}
	for name, s := range c.Controller.Benches {
		values[benchPart+name] = benchState{Controller: s, Guard: c.Guard.Benches[name]}
	}
	for name, s := range c.Guard.Benches {
		values[benchPart+name] = benchState{Controller: c.Controller.Benches[name], Guard: s}
	}
	for name, s := range c.Controller.Crops {
		values[cropPart+name] = s
	}
	parts := make(map[string]string, len(values))
	for name, v := range values {
		data, err := json.Marshal(v)
		if err != nil {
			return nil, fmt.Errorf("store part %q of the checkpoint: %w", name, err)
		}
		parts[name] = string(data)
	}
	return parts, nil
}

// assemble puts a checkpoint together again; nil when there are no parts.
func assemble(parts map[string]string) (*checkpoint, error) {
	if len(parts) == 0 {
		return nil, nil
	}
	var h head
	if err := decode(parts, headPart, &h); err != nil {
		return nil, err
	}
	h.Controller.Benches = map[string]controller.BenchState{}
	h.Controller.Crops = map[string]controller.CropState{}
	h.Guard.Benches = map[string]safety.BenchState{}
	for part := range parts {
		if name, ok := strings.CutPrefix(part, benchPart); ok {
			var s benchState
			if err := decode(parts, part, &s); err != nil {
				return nil, err
			}
			h.Controller.Benches[name], h.Guard.Benches[name] = s.Controller, s.Guard
		}
		if name, ok := strings.CutPrefix(part, cropPart); ok {
			var s controller.CropState
			if err := decode(parts, part, &s); err != nil {
				return nil, err
			}
			h.Controller.Crops[name] = s
		}
	}
	return &checkpoint{Checkpoint: &loop.Checkpoint{Controller: h.Controller, Guard: h.Guard}, benches: h.Names}, nil
}

func decode(parts map[string]string, part string, into any) error {
	if err := json.Unmarshal([]byte(parts[part]), into); err != nil {
		return fmt.Errorf("read part %q of the checkpoint: %w", part, err)
	}
	return nil
}

// sameGuard reports whether two states of the guard differ in nothing but the
// moment they were taken.
func sameGuard(a, b *safety.State) bool {
	x, y := *a, *b
	x.Mono, x.Wall, x.Trusted = y.Mono, y.Wall, y.Trusted
	return reflect.DeepEqual(x, y)
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
