package sim

import (
	"encoding/json"
	"fmt"
)

// Snapshot gives the whole state of the world as JSON.
func (w *World) Snapshot() ([]byte, error) {
	random, err := w.source.MarshalBinary()
	if err != nil {
		return nil, fmt.Errorf("snapshot the simulated site: %w", err)
	}
	s := w.state
	s.Random = random
	return json.Marshal(s)
}

// Restore builds the world of c in the state of a snapshot taken of the same
// site. A snapshot of another shape is an error.
func Restore(c Config, snapshot []byte) (*World, error) {
	w, err := New(c)
	if err != nil {
		return nil, err
	}
	var s state
	if err := json.Unmarshal(snapshot, &s); err != nil {
		return nil, fmt.Errorf("restore the simulated site: %w", err)
	}
	if len(s.Benches) != len(w.benches) || len(s.Reservoirs) != len(w.reservoirs) || len(s.Pots) != len(w.pots) || len(s.Outputs) != len(w.outputs) {
		return nil, fmt.Errorf("restore the simulated site: the snapshot is of another site; start without it")
	}
	if err := w.source.UnmarshalBinary(s.Random); err != nil {
		return nil, fmt.Errorf("restore the simulated site: %w", err)
	}
	w.state = s
	for i := range w.benches {
		w.lay(i)
	}
	w.passEdges()
	w.Stride, w.changed = s.Stride, true
	return w, nil
}
