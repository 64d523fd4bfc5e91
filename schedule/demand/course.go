package demand

import (
	"cmp"
	"slices"
	"time"
)

// Flood is one flood in the course of a pot's water.
type Flood struct {
	At      time.Duration // since the first midnight
	Contact time.Duration // that water stands at the pots
}

// Point is the water in one pot at a time since the first midnight.
type Point struct {
	At    time.Duration
	Water Litres
}

// Course follows the water of a pot that holds start at the first midnight
// through days on which its plants want so much each, with floods in any order.
// It gives a point every hour and one before and one after each flood.
func (p Pot) Course(start Litres, wants []Litres, shine Shine, floods []Flood) []Point {
	floods = slices.SortedFunc(slices.Values(floods), func(a, b Flood) int { return cmp.Compare(a.At, b.At) })
	points := []Point{{0, start}}
	walk := func(to time.Duration) {
		last := points[len(points)-1]
		points = append(points, Point{to, p.Used(last.Water, wanted(wants, shine, last.At, to))})
	}
	end := time.Duration(len(wants)) * day
	for at := time.Hour; at <= end; at += time.Hour {
		for len(floods) > 0 && floods[0].At < at {
			if f := floods[0]; f.At >= 0 {
				walk(f.At)
				points = append(points, Point{f.At, p.Flooded(points[len(points)-1].Water, f.Contact)})
			}
			floods = floods[1:]
		}
		walk(at)
	}
	return points
}

// wanted is what plants want between two times within one day.
func wanted(wants []Litres, shine Shine, from, to time.Duration) Litres {
	return wants[from/day] * Litres(shine.used(to)-shine.used(from))
}
