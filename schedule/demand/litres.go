package demand

import (
	"fmt"
	"math"
)

func (b Batch) scale() float64 {
	if b.Scale == 0 {
		return 1
	}
	return b.Scale
}

// A batch uses between a third and three times what is worked out; small stands
// in dry air use most. Beyond that a leak or a forgotten top-up is likelier
// (judgement, no source).
const leastScale, mostScale = 1.0 / 3, 3

// Learn is the Scale that litres really used show, against those worked out for
// the same days. An error says that they cannot both be right.
func Learn(used, worked Litres) (float64, error) {
	if !(worked > 0) {
		return 0, fmt.Errorf("%.4g L worked out: learn from days on which plants used water", worked)
	}
	scale := float64(used / worked)
	if !(scale >= leastScale && scale <= mostScale) {
		return 0, fmt.Errorf("%.4g L used, %.4g L worked out: look for a leak, a top-up not written down, or wrong pots", used, worked)
	}
	return scale, nil
}

// ReservoirDays is how many days a reservoir lasts at that use a day. It ends
// before it is empty: reserve is what one flood takes out together with what
// stands in the hose and over the intake. It is infinite at no use.
func ReservoirDays(litres, reserve, daily Litres) float64 {
	switch {
	case litres <= reserve:
		return 0
	case daily <= 0:
		return math.Inf(1)
	}
	return float64((litres - reserve) / daily)
}
