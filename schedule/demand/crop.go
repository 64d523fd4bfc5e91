package demand

import "math"

// Crop says how much water plants use at an age, as a factor on the reference.
type Crop interface {
	Factor(age int) float64 // age in days since transplant
}

// Season is a crop whose factors at the start, in full growth and at the end
// are known. Source: FAO-56 table 12 for factors, eq. 66 for what lies between.
type Season struct {
	Initial, Mid, End                float64
	Establish, Develop, Full, Finish int // days that each part of the season takes
}

// Seasons are the factors of some crops grown as transplants. The days of their
// parts depend on the grower and are left at 0. Source: FAO-56 table 12, from
// memory. Initial is for open ground that is wetted often; young plants in pots
// stand better as a Canopy.
var Seasons = map[string]Season{
	"small vegetables": {Initial: 0.7, Mid: 1.05, End: 0.95},
	"lettuce":          {Initial: 0.7, Mid: 1.00, End: 0.95},
	"broccoli":         {Initial: 0.7, Mid: 1.05, End: 0.95},
	"tomato":           {Initial: 0.6, Mid: 1.15, End: 0.80},
	"sweet pepper":     {Initial: 0.6, Mid: 1.05, End: 0.90},
	"cucumber":         {Initial: 0.6, Mid: 1.00, End: 0.75},
}

// Factor stays at Initial while the crop establishes, rises to Mid while it
// develops, and ends at End.
func (s Season) Factor(age int) float64 {
	grown := between0and1(age-s.Establish, s.Develop)
	ripe := between0and1(age-s.Establish-s.Develop-s.Full, s.Finish)
	return s.Initial + grown*(s.Mid-s.Initial) + ripe*(s.End-s.Mid)
}

// between0and1 is how much of a part of a season has passed.
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
}

// LeafyYoung is a leafy crop from transplant to full canopy in six weeks. The
// figures are common practice, no source; the factor is that of FAO-56 table 12.
var LeafyYoung = Canopy{Full: 1, Height: 0.3, Start: 0.05, Days: 42}

// Factor follows a cover that grows evenly. Source: FAO-56 eq. 98, from
// memory, with 0.15 for bare ground, here the open face of the pots.
func (c Canopy) Factor(age int) float64 {
	const bare = 0.15
	cover := c.Start + (1-c.Start)*between0and1(age, c.Days)
	shaded := min(1, 2*cover, math.Pow(cover, 1/(1+float64(c.Height))))
	return bare + (c.Full-bare)*shaded
}
