package sheet

import (
	"math"

	"benchtide/controller/quantity"
)

// Draw is what one fill takes out of the reservoir: how much until FULL is made,
// and how it goes out over the time of the fill.
type Draw struct {
	ToFull quantity.Litres // the hose included, the pots drinking nothing
	Give   quantity.Litres // 19 in 20 benches that are as their file says lie so near to ToFull
	// Curve is the share of ToFull that is out at equal shares of T_fill, from 0
	// at the start to 1 when FULL is made. The pump slows down as the water
	// rises, so it lies a little above the straight line.
	Curve []float64
	Holds quantity.Litres // what all pots hold at container capacity
}

// moments is how finely a Draw's curve is cut up.
const moments = 24

// Draw works out what a fill takes with these pots on the table. The error is
// that of New.
func (b Bench) Draw(pots []Pots) (Draw, error) {
	w, err := b.water()
	if err != nil {
		return Draw{}, err
	}
	t := b.under(pots)
	first, err := w.supply.Flow(0)
	if err != nil {
		return Draw{}, err
	}
	course := []mark{{}, {at(flowFrom(first), t.hose()).Hours(), float64(t.hose())}}
	slice := t.full() / layers
	for i := range layers {
		bottom := quantity.Metres(i) * slice
		q, err := t.rising(w)(bottom + slice/2)
		if err == nil && q <= 0 {
			err = stuckError{bottom + slice/2, t.Units}
		}
		if err != nil {
			return Draw{}, t.cannotFill(w, err)
		}
		last, in := course[len(course)-1], float64(t.water(bottom+slice)-t.water(bottom))
		course = append(course, mark{last.hours + in/float64(q), last.litres + in})
	}
	d := Draw{ToFull: t.water(t.full()) + t.hose(), Give: t.fillGive(), Curve: curve(course)}
	for _, p := range pots {
		d.Holds += quantity.Litres(float64(p.Count)*float64(p.Capacity)) * p.Volume
	}
	return d, nil
}

// fillGive is twice the root of the mean square by which benches as the file says differ
// from ToFull.
func (t tenancy) fillGive() quantity.Litres {
	var squares float64
	for _, d := range drawn {
		one := t.as(d)
		off := float64(one.water(one.full()) - t.water(t.full()))
		squares += off * off / draws
	}
	return quantity.Litres(2 * math.Sqrt(squares))
}

// mark is how much is out at a time.
type mark struct{ hours, litres float64 }

// curve reads a course at equal shares of its time.
func curve(course []mark) []float64 {
	end := course[len(course)-1]
	shares := make([]float64, moments+1)
	k := 1
	for i := range shares {
		at := end.hours * float64(i) / moments
		for k < len(course)-1 && course[k].hours < at {
			k++
		}
		a, b := course[k-1], course[k]
		shares[i] = a.litres
		if b.hours > a.hours {
			shares[i] += (b.litres - a.litres) * (at - a.hours) / (b.hours - a.hours)
		}
		shares[i] /= end.litres
	}
	return shares
}
