package demand

// Celsius is a temperature.
type Celsius float64

// Kilopascals is a pressure.
type Kilopascals float64

// Percent is a relative humidity, 0 to 100.
type Percent float64

// MetresPerSecond is a wind speed.
type MetresPerSecond float64

// Megajoules is energy on a square metre, over the hour or day in question.
type Megajoules float64

// Millimetres is a depth of water: one is a litre on a square metre.
type Millimetres float64

// Hours is a length of daylight or sunshine.
type Hours float64

// Metres is an altitude or a height.
type Metres float64

// SquareMetres is an area.
type SquareMetres float64

// Litres is a volume.
type Litres float64

// Optional is a reading that may be missing. Its zero value is missing.
type Optional[Q ~float64] struct {
	value Q
	known bool
}

// Known is a reading that is there.
func Known[Q ~float64](q Q) Optional[Q] { return Optional[Q]{q, true} }

// Get gives the reading and whether there is one.
func (o Optional[Q]) Get() (Q, bool) { return o.value, o.known }

// evaporate is the water in mm that 1 MJ/m² evaporates, 1/2.45 (FAO-56 eq. 20).
const evaporate = 0.408
