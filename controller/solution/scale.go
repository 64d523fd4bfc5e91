package solution

import (
	"cmp"
	"fmt"
)

// Scale is how a meter turns EC into ppm: so many ppm to one mS/cm. Meters
// differ, so a ppm figure means nothing without its scale.
type Scale int

// The three scales in use, by what they take the salts to be (common practice,
// from memory).
const (
	Scale500 Scale = 500 // sodium chloride
	Scale640 Scale = 640 // a common mean
	Scale700 Scale = 700 // a mixture of natural salts
)

// Scales lists them all.
var Scales = []Scale{Scale500, Scale640, Scale700}

// Unit labels a figure of the scale.
func (s Scale) Unit() string { return fmt.Sprintf("ppm on the %d scale", int(s)) }

func (s Scale) check() error {
	switch s {
	case Scale500, Scale640, Scale700:
		return nil
	}
	return fmt.Errorf("a scale of %d ppm to 1 mS/cm: write 500, 640 or 700", int(s))
}

// PPM is an EC on the scale.
func (s Scale) PPM(e EC) (float64, error) {
	if err := cmp.Or(s.check(), working("EC", e)); err != nil {
		return 0, mixed("ppm", err)
	}
	return float64(s) * float64(e), nil
}

// EC is what a figure of the scale comes to.
func (s Scale) EC(ppm float64) (EC, error) {
	if err := s.check(); err != nil {
		return 0, mixed("ppm", err)
	}
	e := EC(ppm / float64(s))
	if err := working("EC", e); err != nil {
		return 0, mixed("ppm", err)
	}
	return e, nil
}
