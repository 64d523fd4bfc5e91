package demand

// Temperatures of air outside these have not been read on earth.
const coldest, hottest = -90, 60

// Believe refuses temperatures that no air has, and by name the two false
// readings of common digital thermometers: 85 °C after a reset without a
// conversion, 127.94 °C from a faulty line (field experience, no source).
func Believe(t Celsius) error {
	switch {
	case t == 85:
		return unlikely{"%s is what a thermometer shows after a reset: read it again", []Celsius{t}}
	case t > 127.9 && t < 128:
		return unlikely{"%s is what a thermometer shows on a faulty line: check its wiring", []Celsius{t}}
	}
	return between("temperature", t, coldest, hottest, "°C")
}

// Frozen reports from which index on readings, taken at even intervals, have
// repeated themselves for as many as run readings in a row; the sensor has then
// most likely stopped. It looks at the end alone and returns len(readings) when
// they still change.
func Frozen[Q ~float64](readings []Q, run int) int {
	from := len(readings)
	for from > 0 && readings[from-1] == readings[len(readings)-1] {
		from--
	}
	if len(readings)-from < run {
		return len(readings)
	}
	return from
}
