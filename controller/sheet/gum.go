package sheet

import (
	"math"
	"slices"
	"time"

	"benchtide/controller/quantity"
)

// A calibrated figure gives or takes what 19 in 20 lie within, after JCGM 100:2008, the
// Guide to the Expression of Uncertainty in Measurement: how the floods scatter (4.2.3)
// and what readings and file do not know (4.3.7), each as far as it moves the figure
// (5.1.3, note 2), added up by squares (5.1.2) and widened for the few floods (annex G).

// component is a standard uncertainty and its degrees of freedom: infinite where it is
// judged and not measured.
type component struct{ u, freedom float64 }

// combined is what independent components come to: equation 10, and G.2b of Welch and
// Satterthwaite.
func combined(all []component) component {
	var squares, fourths float64
	for _, c := range all {
		squares += c.u * c.u
		fourths += math.Pow(c.u, 4) / c.freedom
	}
	return component{math.Sqrt(squares), squares * squares / fourths}
}

// students are how many standard uncertainties 19 in 20 lie within from so many degrees
// of freedom on (table G.2, from memory).
var students = [...]struct{ freedom, t float64 }{
	{1, 12.71}, {2, 4.30}, {3, 3.18}, {4, 2.78}, {5, 2.57}, {6, 2.45}, {8, 2.31}, {10, 2.23},
	{14, 2.14}, {20, 2.09}, {50, 2.01}, {100, 1.984}, {1000, 1.96},
}

// expanded is what 19 in 20 lie within; degrees of freedom between two rows count as
// the fewer (G.4.1).
func (c component) expanded() float64 {
	t := students[0].t
	for _, s := range students {
		if c.freedom >= s.freedom {
			t = s.t
		}
	}
	return t * c.u
}

// evens is the standard uncertainty of what lies anywhere within so much to either
// side, by even chances.
func evens(width float64) float64 { return width / math.Sqrt(3) }

// off is that of an input.
func off(i int) float64 { return inputs[i].uncertainty() }

// unknown moves what a calibration is taken from by so many standard uncertainties of
// one thing that it does not know.
type unknown func(t *tenancy, w *water, f *Timed, by float64)

// unknowns are all of them but the scatter of the floods. What is read anew in each of
// them counts for their mean.
func unknowns(floods int) []unknown {
	mean := 1 / math.Sqrt(2*float64(floods)) // of the two readings that a difference takes
	watch := evens(float64(watchReads)/2) * mean * 2
	thumb := func(of func(*Timed) *time.Duration) unknown {
		return func(_ *tenancy, _ *water, f *Timed, by float64) {
			if took := of(f); *took > 0 {
				*took += time.Duration(by * watch)
			}
		}
	}
	return []unknown{
		thumb(func(f *Timed) *time.Duration { return &f.Fill }),
		thumb(func(f *Timed) *time.Duration { return &f.Fall }),
		thumb(func(f *Timed) *time.Duration { return &f.Drain }),
		func(t *tenancy, _ *water, _ *Timed, by float64) {
			if t.Full > 0 {
				t.Full += quantity.Metres(by * off(madeAt))
			}
		},
		func(t *tenancy, _ *water, _ *Timed, by float64) { t.clears += quantity.Metres(by * off(clearsBelow)) },
		func(_ *tenancy, w *water, _ *Timed, by float64) { w.carries *= 1 + by*off(overCrest) },
		func(_ *tenancy, _ *water, f *Timed, by float64) {
			f.Lifted *= quantity.Litres(1 + by*off(marks))
			f.Drawn *= quantity.Litres(1 + by*off(marks))
		},
		func(_ *tenancy, _ *water, f *Timed, by float64) {
			if f.Drawn > 0 {
				f.Drawn += tankReads * quantity.Litres(by*evens(0.5)*mean*2)
			}
		},
		func(_ *tenancy, _ *water, f *Timed, by float64) {
			if f.Settle > 0 {
				f.Settle += quantity.Metres(by * off(stands))
			}
		},
		func(t *tenancy, _ *water, _ *Timed, by float64) { t.Table.Length *= quantity.Metres(1 + by*off(area)) },
		func(t *tenancy, _ *water, _ *Timed, by float64) { t.displaces *= 1 + by*off(wet) },
	}
}

// said are flow, free area and drain coefficient as each flood says them; those that say
// nothing of the drain are left out there.
func (t tenancy) said(found []single) (all [3][]float64) {
	for _, s := range found {
		all[0], all[1] = append(all[0], s.flow), append(all[1], s.share*t.rises())
		if s.home > 0 {
			all[2] = append(all[2], s.home)
		}
	}
	return all
}

// rises is the area that rises with the depth up to FULL by the file, in square metres.
func (t tenancy) rises() float64 { return float64(t.water(t.full())) / float64(t.full()) / 1000 }

// give sets what the figures of c give or take. A drain that nobody timed is known as
// the file's is. What cannot be moved moves nothing. Readings are in the scatter, too,
// which three floods show but poorly: they count twice rather than not at all.
func (t tenancy) give(w water, floods []Timed, found []single, c *Calibration) {
	t.layers = coarse
	var parts [3][]component
	for i, values := range t.said(found) {
		parts[i] = append(parts[i], scattered(values))
	}
	if len(t.said(found)[2]) == 0 {
		parts[2] = append(parts[2], component{off(mouth) * c.Home.Value, math.Inf(1)})
	}
	for _, by := range unknowns(len(floods)) {
		up, errUp := t.moved(w, floods, by, 1)
		down, errDown := t.moved(w, floods, by, -1)
		for i := range parts {
			if errUp == nil && errDown == nil && len(up[i]) > 0 && len(down[i]) > 0 {
				parts[i] = append(parts[i], component{math.Abs(mean(up[i])-mean(down[i])) / 2, math.Inf(1)})
			}
		}
	}
	for i, e := range [...]*Estimate{&c.Flow, &c.Free, &c.Home} {
		e.Give = quantity.Fraction(combined(parts[i]).expanded() / e.Value)
	}
}

// moved is what floods say with one thing moved.
func (t tenancy) moved(w water, floods []Timed, by unknown, sigma float64) ([3][]float64, error) {
	all := slices.Clone(floods)
	at, through := t, w
	for i := range all {
		at, through = t, w
		by(&at, &through, &all[i], sigma)
	}
	found, err := at.each(through, all)
	return at.said(found), err
}

// scattered is the uncertainty of the mean of values by how they differ; of a single
// one, what floods differ by as a rule.
func scattered(values []float64) component {
	m, n := mean(values), float64(len(values))
	if n < 2 {
		return component{m * off(scatter), math.Inf(1)}
	}
	var squares float64
	for _, v := range values {
		squares += (v - m) * (v - m)
	}
	return component{math.Sqrt(squares / (n - 1) / n), n - 1}
}
