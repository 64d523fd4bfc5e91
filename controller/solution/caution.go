package solution

import (
	"benchtide/controller/quantity"
)

// Caution is a text that goes with a job at the reservoir.
type Caution string

// The cautions, common practice without a source but for the bleach: one part
// to nine of water, mixed fresh, half an hour's contact and a rinse (University
// of Georgia, greenhouse disinfectants, 2011).
const (
	CautionAcid Caution = "Acid and lye burn: wear gloves and glasses, add them to plenty of water and never water to them, " +
		"a little at a time with stirring, and measure pH before adding more. Never let acid and bleach meet."
	CautionBleach Caution = "Household bleach 1 part to 9 of water, mixed fresh, stays 30 min and is rinsed off twice. It is corrosive: " +
		"gloves, glasses, open air. With acid or ammonia, fertiliser too, it gives off poison gas. No flood until rinsed is confirmed."
	CautionConcentrate Caution = "Never pour concentrates together: calcium and sulphate or phosphate turn to stone that plants cannot use. " +
		"Add one part to the full tank, stir, then the next; stir half an hour before measuring."
	CautionTable Caution = "Top up and mix only while every table is empty: what stands in a table comes back."
)

// Warmth is how the temperature of a solution is to be taken.
type Warmth int

// From the colder to the warmer, a solution is too cold to flood with, cool,
// fine, warm, or hot.
const (
	TooCold Warmth = iota
	Cool
	Fine
	Warm
	Hot
)

// WarmthOf judges a temperature of 0 to 50 °C. At 2 °C and below nothing
// floods; 12, 26 and 30 °C are common practice, no source.
func WarmthOf(t quantity.Celsius) (Warmth, error) {
	if err := warmth(t); err != nil {
		return 0, err
	}
	switch {
	case t <= 2:
		return TooCold, nil
	case t < 12:
		return Cool, nil
	case t < 26:
		return Fine, nil
	case t < 30:
		return Warm, nil
	}
	return Hot, nil
}

// Words say what to do at a temperature, and nothing where all is well.
func (w Warmth) Words(u quantity.Units) string {
	switch w {
	case TooCold:
		return "Too cold: at " + u.Temperature(2) + " and below nothing floods. Warm the solution."
	case Cool:
		return "Cool: below " + u.Temperature(12) + " roots take up little. Warm the solution or flood in the afternoon."
	case Warm:
		return "Warm: from " + u.Temperature(25) + " on water moulds spread in a shared solution, and little oxygen stays. Shade the tank, stir less, aerate more."
	case Hot:
		return "Hot: at " + u.Temperature(30) + " and above roots want twice the oxygen of " + u.Temperature(20) + " and find less. Cool the solution before the next flood if you can."
	}
	return ""
}
