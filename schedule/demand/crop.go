package demand

import "math"

// Crop says how much water plants use at an age, as a factor on the reference.
type Crop interface {
	Factor(age int) float64 // age in days since transplant
}

// FullGrown are the factors of some crops grown as transplants once their leaves
// cover the ground, K_c mid. Source: FAO-56 table 12, page 110; that of small
// vegetables is from memory.
var FullGrown = map[string]float64{
	"small vegetables": 1.05,
	"lettuce":          1.00,
	"broccoli":         1.05,
	"tomato":           1.15,
	"sweet pepper":     1.05,
	"cucumber":         1.00,
}

// between0and1 is how much of a part of the time has passed.
func between0and1(days, part int) float64 {
	switch {
	case days <= 0:
		return 0
	case days >= part:
		return 1
	}
	return float64(days) / float64(part)
}

// Canopy is a crop known by the ground that its leaves shade, which is what
// counts while young plants stand apart.
type Canopy struct {
	Full   float64 // factor when the ground is covered; 1 for most leafy crops (FAO-56 table 12)
	Height Metres  // of the plants, usually 0.1 to 0.4 m
	Start  float64 // share of the ground that is shaded at transplant, 0 to 1
	Days   int     // until the ground is covered
	Mouths float64 // share of the ground that is the open, wet face of pots, 0 to 1
}

// LeafyYoung is a leafy crop from transplant to full canopy in six weeks, in pots
// whose mouths are a fifth of the bench. The figures are common practice, no source;
// the factor is that of FAO-56 table 12.
var LeafyYoung = Canopy{Full: 1, Height: 0.3, Start: 0.05, Days: 42, Mouths: 0.2}

// wetGround is the factor of bare ground that is wetted every day, up to a reference
// of 3 mm a day, and up to 5 where it is wetted deep. Source: FAO-56 eq. 7-4 and
// figures 29 and 30.
const wetGround = 1.15

// Factor follows a cover that grows evenly over ground of which the mouths alone are
// wet. Source: FAO-56 eq. 98, with K_c ini for its K_c min as page 184 allows, and
// K_c ini by the wetted share, eq. 60.
func (c Canopy) Factor(age int) float64 {
	bare := min(c.Full, wetGround*c.Mouths)
	cover := c.Start + (1-c.Start)*between0and1(age, c.Days)
	shaded := min(1, 2*cover, math.Pow(cover, 1/(1+float64(c.Height))))
	return bare + (c.Full-bare)*shaded
}
