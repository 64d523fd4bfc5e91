package hydraulics

import "math"

// Metres is a length, a depth or a head of water.
type Metres float64

// SquareMetres is an area.
type SquareMetres float64

// CubicMetresPerSecond is a flow.
type CubicMetresPerSecond float64

// KilogramsPerCubicMetre is a density.
type KilogramsPerCubicMetre float64

// SquareMetresPerSecond is a kinematic viscosity.
type SquareMetresPerSecond float64

// Watts is a power.
type Watts float64

// Gravity is the standard acceleration of free fall in m/s², exact by
// definition (3rd CGPM, 1901).
const Gravity = 9.80665

// LitresPerHour gives the flow in litres an hour.
func (q CubicMetresPerSecond) LitresPerHour() float64 { return float64(q) * 3.6e6 }

// LitresPerHour is a flow given in litres an hour, as pumps are labelled.
func LitresPerHour(q float64) CubicMetresPerSecond { return CubicMetresPerSecond(q / 3.6e6) }

// Bore gives the cross-section of a round pipe of this inner diameter.
func (d Metres) Bore() SquareMetres { return SquareMetres(math.Pi / 4 * d * d) }
