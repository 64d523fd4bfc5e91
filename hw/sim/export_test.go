package sim

import "slices"

// Energise drives the coils of these outputs alone, for tests of the physics:
// only a guard can mint a Command.
func (w *World) Energise(outputs ...int) {
	w.energise(func(i int) bool { return slices.Contains(outputs, i) })
}

// Acting says whether a fault of this name is under way.
func (w *World) Acting(what string) bool { return w.acting(what) }
