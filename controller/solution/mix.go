package solution

import (
	"fmt"

	"benchtide/controller/quantity"
)

// Answer is what a question about a solution comes to.
type Answer struct {
	Value  float64  `json:"value"`
	Unit   string   `json:"unit"`
	Words  []string `json:"words"`            // sentences for a person, the answer first
	Scales []Figure `json:"scales,omitempty"` // the same on other scales
	Parts  []Amount `json:"parts,omitempty"`  // of a dose, in the order of adding
}

// Figure is a value on one of several scales.
type Figure struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// MixRaise answers how much stock raises a solution, in litres; see Raise.
func MixRaise(u quantity.Units, v quantity.Litres, from, to, stock EC) (Answer, error) {
	add, err := Raise(v, from, to, stock)
	if err != nil {
		return Answer{}, err
	}
	return litres(add,
		fmt.Sprintf("Add %s of stock to %s: it goes from %.4g to %.4g mS/cm.", u.Measured(add), u.Measured(v), from, to),
		"A concentrate's EC is not what a meter shows in it: add half, stir, measure, then work out the rest.",
		string(CautionConcentrate), string(CautionTable)), nil
}

// MixDilute answers how much water weakens a solution, in litres; see Dilute
// and, for a tank that is full, Replace.
func MixDilute(u quantity.Units, v quantity.Litres, from, to, water EC) (Answer, error) {
	add, err := Dilute(v, from, to, water)
	if err != nil {
		return Answer{}, err
	}
	change, err := Replace(v, from, to, water)
	if err != nil {
		return Answer{}, err
	}
	return litres(add,
		fmt.Sprintf("Add %s of water to %s: it goes from %.4g to %.4g mS/cm.", u.Measured(add), u.Measured(v), from, to),
		fmt.Sprintf("Where that does not fit, throw %s away and fill up with water.", u.Measured(change)),
		string(CautionTable)), nil
}

// MixTopUp answers how strong the make-up for a tank has to be, in mS/cm; see
// TopUp.
func MixTopUp(u quantity.Units, full, left quantity.Litres, ec, to, water EC) (Answer, error) {
	with, err := TopUp(full, left, ec, to, water)
	if err != nil {
		return Answer{}, err
	}
	return Answer{Value: float64(with), Unit: "mS/cm", Words: []string{
		fmt.Sprintf("Make %s up to %s with %s of %.3g mS/cm: it comes to %.4g mS/cm.", u.Measured(left), u.Measured(full), u.Measured(full-left), with, to),
		fmt.Sprintf("With plain water it would come to %.3g mS/cm.", Blend(left, ec, full-left, water)),
		string(CautionTable),
	}}, nil
}

// MixReplace answers how much of a full tank to throw away.
func MixReplace(u quantity.Units, v quantity.Litres, from, to, water EC) (Answer, error) {
	change, err := Replace(v, from, to, water)
	if err != nil {
		return Answer{}, err
	}
	return litres(change,
		fmt.Sprintf("Throw %s of %s away and fill up with water: it goes from %.4g to %.4g mS/cm.", u.Measured(change), u.Measured(v), from, to),
		string(CautionTable)), nil
}

// MixDose answers what a volume of water takes of each part of a stock; the
// value is that of the first part, in its unit. See Dose.
func MixDose(u quantity.Units, v quantity.Litres, strength quantity.Fraction, s Stock) (Answer, error) {
	parts, err := s.Dose(v, strength)
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Value: parts[0].Value, Unit: parts[0].Unit, Parts: parts}
	for _, p := range parts {
		a.Words = append(a.Words, fmt.Sprintf("%.3g %s of %s into %s, for %.4g %% strength.", p.Value, p.Unit, p.Part, u.Measured(v), 100*strength))
	}
	a.Words = append(a.Words, string(CautionConcentrate), string(CautionTable))
	return a, nil
}

// MixRecipe answers what a recipe comes to in pure water, in mS/cm, with what a
// litre of it weighs and holds.
func MixRecipe(r Recipe) (Answer, error) {
	ec, err := r.EC()
	if err != nil {
		return Answer{}, err
	}
	e, err := r.Elements()
	if err != nil {
		return Answer{}, err
	}
	return Answer{Value: float64(ec), Unit: "mS/cm", Words: []string{
		r.String() + ".",
		fmt.Sprintf("In mg/L: N %.0f as nitrate and %.0f as ammonium, P %.0f, K %.0f, Ca %.0f, Mg %.0f, S %.0f.",
			e.Nitrate, e.Ammonium, e.P, e.K, e.Ca, e.Mg, e.S),
		fmt.Sprintf("In pure water about %.1f mS/cm, good to some 10 %%. Iron and trace elements come on top.", ec),
	}}, nil
}

// MixStrength answers what a meter should show at a part of full strength, in
// mS/cm; see AtStrength. A full of 0 is what trials found; see Fed.
func MixStrength(part quantity.Fraction, full, water EC) (Answer, error) {
	least, most, whose := full, full, "Full strength is as you gave it, in pure water."
	if full == 0 {
		least, most = Fed[0], Fed[1]
		whose = fmt.Sprintf("Full strength is %.1f to %.1f mS/cm: with that, sub-irrigated petunias, begonias and pansies grew most.", least, most)
	}
	low, err := AtStrength(part, least, water)
	if err != nil {
		return Answer{}, err
	}
	high, err := AtStrength(part, most, water)
	if err != nil {
		return Answer{}, err
	}
	about := (low + high) / 2
	should := fmt.Sprintf("Strength %.3g %% in water of %.2g mS/cm: the meter should read about %.2g mS/cm", 100*part, water, about)
	if low < high {
		should += fmt.Sprintf(", from %.2g to %.2g", low, high)
	}
	return Answer{Value: float64(about), Unit: "mS/cm", Words: []string{
		should + ".", whose, "Nothing doses: a person mixes and measures.", string(CautionTable),
	}}, nil
}

// MixLoss answers what a solution comes to when plants took water, in mS/cm;
// see Lose.
func MixLoss(u quantity.Units, v, lost quantity.Litres, ec EC) (Answer, error) {
	after, err := Lose(v, lost, ec)
	if err != nil {
		return Answer{}, err
	}
	return Answer{Value: float64(after), Unit: "mS/cm", Words: []string{
		fmt.Sprintf("%s of %s gone as water leaves at most %.3g mS/cm.", u.Measured(lost), u.Measured(v), after),
		fmt.Sprintf("Topped up with plain water it comes back to %.3g mS/cm, more by what the water brings.", ec),
	}}, nil
}

// MixOxygen answers how much oxygen water holds, in mg/L; see Oxygen.
func MixOxygen(u quantity.Units, t quantity.Celsius, altitude quantity.Metres, salinity float64) (Answer, error) {
	holds, err := Oxygen(t, altitude, salinity)
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Value: holds, Unit: "mg/L", Words: []string{
		fmt.Sprintf("Water at %s holds %.2f mg/L of oxygen when it is in balance with air.", u.Temperature(t), holds),
	}}
	if w, err := WarmthOf(t); err == nil && w != Fine {
		a.Words = append(a.Words, w.Words(u))
	}
	return a, nil
}

// MixCompensate answers what a reading comes to at 25 °C, in mS/cm; see
// Compensate.
func MixCompensate(u quantity.Units, reading EC, t quantity.Celsius, c Coefficient) (Answer, error) {
	ec, err := Compensate(reading, t, c)
	if err != nil {
		return Answer{}, err
	}
	off, err := CompensationError(t, c)
	if err != nil {
		return Answer{}, err
	}
	each, degree := 100*c, "°C"
	if u == quantity.US {
		each, degree = each/1.8, "°F"
	}
	return Answer{Value: float64(ec), Unit: "mS/cm", Words: []string{
		fmt.Sprintf("%.4g mS/cm at %s is %.4g mS/cm at %s, with %.3g %% for each %s.", reading, u.Temperature(t), ec, u.Temperature(25), each, degree),
		misreads(t, off, u),
		"Most meters compensate by themselves: then do not do it again.",
	}}, nil
}

// MixPPM answers what an EC is in ppm: on the 500 scale, and on all in Scales.
func MixPPM(ec EC) (Answer, error) {
	var a Answer
	for _, s := range Scales {
		ppm, err := s.PPM(ec)
		if err != nil {
			return Answer{}, err
		}
		a.Scales = append(a.Scales, Figure{ppm, s.Unit()})
		a.Words = append(a.Words, fmt.Sprintf("%.4g mS/cm is %.0f %s.", ec, ppm, s.Unit()))
	}
	a.Value, a.Unit = a.Scales[0].Value, a.Scales[0].Unit
	a.Words = append(a.Words, "Look up which scale a meter or a recipe uses; better, speak of mS/cm.")
	return a, nil
}

func litres(v quantity.Litres, words ...string) Answer {
	return Answer{Value: float64(v), Unit: "L", Words: words}
}

// MixEC answers what ppm are in EC, on one scale, or on each where scale is 0.
func MixEC(ppm float64, scale Scale) (Answer, error) {
	scales := Scales
	if scale != 0 {
		scales = []Scale{scale}
	}
	var a Answer
	for _, s := range scales {
		ec, err := s.EC(ppm)
		if err != nil {
			return Answer{}, err
		}
		a.Scales = append(a.Scales, Figure{float64(ec), "mS/cm by the " + s.Unit()})
		a.Words = append(a.Words, fmt.Sprintf("%.0f %s is %.4g mS/cm.", ppm, s.Unit(), ec))
	}
	a.Value, a.Unit = a.Scales[0].Value, "mS/cm"
	if len(scales) > 1 {
		a.Words = append(a.Words, "Look up which scale the meter or the recipe uses: the three differ by 40 %.")
	}
	return a, nil
}
