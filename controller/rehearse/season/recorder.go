package season

import (
	"math"
	"time"

	"benchtide/controller/chart"
	"benchtide/controller/rehearse"
)

// Recorder keeps what pictures need of the samples of a rehearsal.
type Recorder struct {
	depth, stock, water []series // by bench, reservoir and batch
}

// series is one quantity over time; a number that is none ends a piece.
type series []chart.Point

// Sample takes one sample: it is for rehearse.Options.
func (r *Recorder) Sample(s rehearse.Sample) {
	r.depth = grow(r.depth, s.At, s.Depth, 1000)
	r.stock = grow(r.stock, s.At, s.Stock, 1)
	r.water = grow(r.water, s.At, s.Water, 100)
}

func grow(all []series, at time.Time, values []float64, scale float64) []series {
	for len(all) < len(values) {
		all = append(all, nil)
	}
	for i, v := range values {
		all[i] = append(all[i], chart.Point{X: seconds(at), Y: v * scale})
	}
	return all
}

func seconds(at time.Time) float64 { return float64(at.UnixMilli()) / 1000 }

// columns is how many places across a picture differ to the eye.
const columns = 900

// pieces are the parts of a series without gaps, thinned so that each column of
// the picture keeps its first, least, greatest and last value.
func (s series) pieces() (all [][]chart.Point) {
	if len(s) == 0 {
		return nil
	}
	wide := (s[len(s)-1].X - s[0].X) / columns
	var piece []chart.Point
	end := func() {
		if len(piece) > 1 {
			all = append(all, thin(piece, wide))
		}
		piece = nil
	}
	for _, p := range s {
		if math.IsNaN(p.Y) {
			end()
			continue
		}
		piece = append(piece, p)
	}
	end()
	return all
}

// points are the pieces in one, with a number that is none between them.
func (s series) points() (all []chart.Point) {
	for i, piece := range s.pieces() {
		if i > 0 {
			all = append(all, chart.Point{X: piece[0].X, Y: math.NaN()})
		}
		all = append(all, piece...)
	}
	return all
}

func thin(points []chart.Point, wide float64) (kept []chart.Point) {
	for from := 0; from < len(points); {
		to, least, most := from, from, from
		for ; to < len(points) && points[to].X < points[from].X+wide || to == from; to++ {
			if points[to].Y < points[least].Y {
				least = to
			}
			if points[to].Y > points[most].Y {
				most = to
			}
		}
		last := -1
		for _, i := range [...]int{from, min(least, most), max(least, most), to - 1} {
			if i > last {
				kept, last = append(kept, points[i]), i
			}
		}
		from = to
	}
	return kept
}
