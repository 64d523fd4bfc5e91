package hydraulics

import "cmp"

// HydraulicPower is what a pump gives to water: P = ρ·g·Q·H.
// Source: Crane TP-410, example 7-34; any text.
func HydraulicPower(q CubicMetresPerSecond, head Metres, density KilogramsPerCubicMetre) (Watts, error) {
	err := cmp.Or(between("flow", float64(q), 0, 1e3, "m³/s"), between("head", float64(head), 0, 1e4, "m"),
		between("density", float64(density), 900, 1300, "kg/m³"))
	if err != nil {
		return 0, err
	}
	return Watts(float64(density) * Gravity * float64(q) * float64(head)), nil
}

// ElectricalPower is what the pump takes from its supply, hydraulic power over
// the efficiencies of pump, motor and drive, each above 0 to 1.
func ElectricalPower(hydraulic Watts, efficiencies ...float64) (Watts, error) {
	if err := between("hydraulic power", float64(hydraulic), 0, 1e9, "W"); err != nil {
		return 0, err
	}
	for _, e := range efficiencies {
		if err := cmp.Or(positive("efficiency", e, ""), between("efficiency", e, 0, 1, "")); err != nil {
			return 0, err
		}
		hydraulic /= Watts(e)
	}
	return hydraulic, nil
}
