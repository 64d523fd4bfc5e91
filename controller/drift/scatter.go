package drift

import "math"

// Bounds of a CUSUM in terms of the change that is not worth a chore and, where
// floods scatter, of their variance over it: the sum that chance alone reaches
// once in so many floods grows with that (Siegmund, Sequential Analysis, 1985,
// ch. 2; the factors were found by trial on simulated seasons).
const (
	limit    = 2.8 // times the change
	chance   = 4   // times the variance over the change
	most     = 3   // times the change: what one flood adds at most, before the slack is taken off
	mostWide = 2   // times the scatter, added to that

	steps = 60 // differences of floods that say how they scatter
)

// bounds are those of one CUSUM.
type bounds struct{ slack, most, limit float64 }

// boundsOf go with a change that is not worth a chore, with how floods scatter and
// with how far the baseline may be off by chance.
func boundsOf(least, s, doubt float64) bounds {
	return bounds{slack: least + doubt, most: most*least + mostWide*s, limit: limit*least + chance*s*s/least}
}

func bothBounds(scatter, doubt float64) (up, down bounds) {
	return boundsOf(later, scatter, doubt), boundsOf(sooner, scatter, doubt)
}

// scatter is the standard deviation of alike floods by the median of the
// differences between one and the next, which a slow drift leaves alone. It is
// larger while there are few, by one standard error.
func (t track) scatter() float64 {
	if len(t.Steps) == 0 {
		return 0
	}
	return deviation / math.Sqrt2 * median(t.Steps) * (1 + 1/math.Sqrt(float64(len(t.Steps))))
}

// deviation is a normal distribution's standard deviation over the median of
// what it is off by.
const deviation = 1.4826

// doubt is the standard error of a median of n floods.
func (t track) doubt(n int) float64 {
	return math.Sqrt(math.Pi/2) * t.scatter() / math.Sqrt(float64(n))
}
