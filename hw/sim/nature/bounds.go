package nature

import (
	"maps"
	"slices"
)

// bound is what the simulated world can do with a figure.
type bound struct {
	unit      string
	plain     float64 // the figure of the plain bench
	low, high float64 // what it may come to
}

// bounds are all that may be drawn.
var bounds = map[string]bound{
	"pump.straight":   {"1", 0, 0, 1},
	"pump.head":       {"1", 1, 0.5, 1.5},
	"pump.flow":       {"1", 1, 0.5, 1.5},
	"pump.scatter":    {"1", 0, 0, 0.2},
	"pump.air":        {"s", 0, 0, 60},
	"hose.resistance": {"1", 1, 0.2, 5},
	"standpipe.flow":  {"1", 1, 0.3, 2},
	"drain.flow":      {"1", 1, 0.3, 2},
	"table.tilt":      {"mm", 0, -5, 5},
	"table.size":      {"1", 1, 0.9, 1.1},
	"float.at":        {"mm", 0, -5, 5},
	"float.band":      {"mm", 2, 0.5, 15},
	"float.sticks":    {"1", 0, 0, 1},
	"float.stuck":     {"mm", 0, 0, 50},
	"tank.depth":      {"m", 0.4, 0.1, 1.5},
	"tank.dries":      {"mm", 0, 0, 10},
	"tank.mark":       {"1", 1, 0.8, 1.2},
	"pots.holds":      {"1", 1, 0.5, 1.5},
	"pots.drinks":     {"1", 1, 0.1, 10},
	"pots.start":      {"1", 1, 0.1, 1},
	"plants.use":      {"1", 1, 0.2, 3},
	"plants.bare":     {"1", 0, 0, 1},
	"plants.full":     {"1", 0, 0, 1.6},
	"plants.half":     {"day", 0, 0, 90},
	"plants.pace":     {"day", 0, 0, 40},
	"crop.dry":        {"1", 1, 0, 5},
	"crop.wet":        {"1", 1, 0, 5},
	"crop.salt":       {"1", 1, 0, 5},
	"crop.cold":       {"1", 1, 0, 5},
	"crop.dark":       {"1", 1, 0, 5},
	"air.use":         {"1", 1, 0.3, 3},
	"room.lag":        {"h", 6, 0.5, 48},
}

// Names are all that may be drawn, in alphabetical order.
func Names() []string { return slices.Sorted(maps.Keys(bounds)) }
