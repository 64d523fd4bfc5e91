package controller

import (
	"math"
	"slices"
	"time"

	"benchtide/safety"
)

// A reservoir is weighed by the moment in a fill at which one of its switches
// falls. Then it holds what the switch turns at; what had gone before that, hose
// and table have, as they have all of a fill when FULL is made. So the share of
// the fill that had passed tells the litres at its start, and since each flood
// times its own pump, one that weakens changes nothing.

// Draw is what one fill of a bench takes out of its reservoir.
type Draw struct {
	ToFull safety.Litres // until FULL is made, the pots drinking nothing
	Give   safety.Litres // 19 in 20 lie so near to ToFull
	Curve  []float64     // the share of it that is out at equal shares of the fill, from 0 to 1
	Holds  safety.Litres // what the pots hold at container capacity: they never drink more
}

// Out is the share that is out at a share of the fill.
func (d Draw) Out(share float64) float64 {
	last := len(d.Curve) - 1
	if last < 1 {
		return share
	}
	x := min(max(share, 0), 1) * float64(last)
	i := min(int(x), last-1)
	return d.Curve[i] + (d.Curve[i+1]-d.Curve[i])*(x-float64(i))
}

// Drunk is what the plants of a bench take from their pots in some time.
type Drunk struct {
	Normal  safety.Litres // on normal days
	Hottest safety.Litres // on the hottest by the file's forecast, and what pots that came new may lack
}

// Weighing is one reading of a reservoir's litres.
type Weighing struct {
	Reservoir int           `json:"-"`
	Bench     int           `json:"-"` // whose fill it was
	Flood     int64         `json:"flood"`
	At        time.Time     `json:"at"` // when its pump started
	Trusted   bool          `json:"trusted"`
	Litres    safety.Litres `json:"litres"` // then, tables empty
	Give      safety.Litres `json:"give"`   // 19 in 20 lie so near to it; most of it is the float's and the tank's, and the same each time
	Noted     safety.Litres `json:"noted"`  // topped up by the diary since the weighing before
	Came      safety.Litres `json:"came"`   // that nobody wrote down; booked as a top-up
	Gone      safety.Litres `json:"gone"`   // since the weighing before; meaningful where Paired
	Over      safety.Litres `json:"over"`   // of Gone more than the plants can have drunk; below 0 as a rule
	Paired    bool          `json:"paired"`
}

// drinks is the time constant of pots that drink from below, that of package
// schedule/demand.
const drinks = 173 * time.Second

// What a weighing does not know beside the float and the fill, 19 in 20 within it
// (common practice, no source, but for the last).
const (
	leastGive    = safety.Litres(0.5) // waves, drips, and a puddle that the flood before left
	giveByMark   = 0.04               // of the litres at the switch: a tank measured with a rule, or filled with pails
	giveByThirst = 0.5                // of what the pots are taken to drink in the fill
	giveByShape  = 0.02               // of the fill: between the two curves that a label allows; see sheet.Draw
)

// mostGive is the share of a reservoir by which what is expected of it may be out
// before nothing is said of it (judgement, no source).
const mostGive = 0.1

// A float turns back lower than it is made: small ones by 2 to 8 mm (their data sheets,
// from memory). What that comes to in litres goes by the surface of the reservoir. Where
// nobody says how large it is, the water of a full one is 0.25 to 0.6 m deep (common
// practice, no source).
const (
	ordinaryBand = 0.005  // m
	wideBand     = 0.003  // m to either side of that
	readBand     = 0.0015 // m to either side of a band that the file gives: as a rule in water shows it
	thickBand    = 0.005  // m: floats over that err by more
	fullDepth    = 0.4    // m
	anyDepth     = 0.26   // the standard deviation of a surface that follows from it, over the surface
	readSurface  = 0.03   // of one that the file gives: walls lean and corners are round (no source)
)

// The switches that weigh, as Setup.Bands has them.
const (
	bySwitchLow = iota
	bySwitchLevel
)

// band is that of a switch of reservoir k, in metres, give or take as much.
func (c *Controller) band(k, which int) (band, give float64) {
	if k < len(c.setup.Bands) && c.setup.Bands[k][which] > 0 {
		return c.setup.Bands[k][which], readBand
	}
	return ordinaryBand, wideBand
}

// back is how many litres below those it is made at a switch of reservoir k turns back;
// 19 in 20 within give. An even chance between two bounds has half their distance over
// the root of three for its standard deviation, and what is a product has the root of
// the sum of squares of the shares of its factors: JCGM 100:2008, 4.3.7 and 5.1.6.
func (c *Controller) back(k, which int) (litres, give safety.Litres) {
	band, either := c.band(k, which)
	surface, off := float64(c.setup.Limits.Reservoirs[k].Usable)/1000/fullDepth, anyDepth
	if k < len(c.setup.Surfaces) && c.setup.Surfaces[k] > 0 {
		surface, off = c.setup.Surfaces[k], readSurface
	}
	litres = safety.Litres(1000 * surface * band)
	return litres, litres * safety.Litres(expanded*math.Hypot(either/math.Sqrt(3)/band, off))
}

// expanded is how many standard deviations 19 in 20 lie within, by the normal curve.
const expanded = 1.96

// thick reports whether the float that weighs reservoir k is a thick one.
func (c *Controller) thick(k int) bool {
	which := bySwitchLow
	if c.setup.Limits.Reservoirs[k].Level {
		which = bySwitchLevel
	}
	band, _ := c.band(k, which)
	return band > thickBand
}

// weigh reads the litres that a reservoir held at the start of a fill off the
// moment at which a switch that turns back at so many litres fell. What it does not
// know is independent, so that it adds up by squares (JCGM 100:2008, 5.1.2).
func weigh(at, backGive safety.Litres, d Draw, lacks safety.Litres, fell, filled time.Duration) (litres, give safety.Litres) {
	drink := min(lacks*safety.Litres(-math.Expm1(-filled.Seconds()/2/drinks.Seconds())), d.Holds)
	out := safety.Litres(d.Out(float64(fell) / float64(filled)))
	var squares safety.Litres
	for _, off := range [...]safety.Litres{leastGive, backGive, giveByMark * at, d.Give * out, giveByThirst * drink * out, giveByShape * d.ToFull} {
		squares += off * off
	}
	return at + (d.ToFull+drink)*out, safety.Litres(math.Sqrt(float64(squares)))
}

// thirst is what the pots of a bench may lack, to a time.
type thirst struct {
	At    time.Time `json:"at"`
	Drunk Drunk     `json:"drunk"`
}

// atMostLeft is the share of what they lacked that pots are taken to lack still
// after a flood, where more may have been drunk (judgement, no source: very dry
// peat takes less at once).
const atMostLeft = 0.5

// thirsty brings what bench b's pots lack up to now.
func (c *Controller) thirsty(b int) *thirst {
	t := &c.benches[b].thirst
	if c.setup.Drunk == nil {
		return t
	}
	now := c.now.Wall
	if t.At.Equal(now) {
		return t
	}
	if now.Before(t.At) || now.Sub(t.At) > mostThirst {
		t.At = now.Add(-min(mostThirst, c.interval(b)))
		t.Drunk = Drunk{}
	}
	more := c.setup.Drunk(b, t.At, now)
	holds := c.draw(b).Holds
	t.Drunk.Normal = min(t.Drunk.Normal+more.Normal, holds)
	t.Drunk.Hottest = min(t.Drunk.Hottest+more.Hottest, holds)
	t.At = now
	return t
}

// mostThirst is how far back what pots lack is worked out.
const mostThirst = 7 * 24 * time.Hour

// quenched takes a flood into account in which water stood at the pots.
func (c *Controller) quenched(b int, contact time.Duration) {
	t := c.thirsty(b)
	left := safety.Litres(math.Exp(-contact.Seconds() / drinks.Seconds()))
	t.Drunk.Normal *= left
	t.Drunk.Hottest *= max(left, atMostLeft)
	c.dirty = true
}

func (c *Controller) draw(b int) Draw {
	if c.setup.Draw == nil {
		return Draw{}
	}
	return c.setup.Draw(b, c.setup.Calendar.Civil(c.now.Wall).Date())
}

// weighFill weighs the reservoir of bench b, whose fill has just made FULL, when
// one of its switches fell in it.
func (c *Controller) weighFill(b int, v *safety.BenchView) {
	k := c.limits(b).Reservoir
	l, r := &c.setup.Limits.Reservoirs[k], &c.view.Reservoirs[k]
	s := &c.benches[b]
	lacked := c.thirsty(b).Drunk
	s.run.lacked = lacked
	d := c.draw(b)
	for _, sw := range [...]struct {
		fitted bool
		at     safety.Litres
		which  int
		safety.Switch
	}{{l.Level, l.LevelAt, bySwitchLevel, r.Level}, {l.Low, l.LowAt, bySwitchLow, r.Low}} {
		fell := sw.Since - v.Started
		if !sw.fitted || sw.Level != safety.Dry || fell <= 0 || sw.Since >= v.FullAt || d.ToFull <= 0 {
			continue
		}
		w := Weighing{
			Reservoir: k, Bench: b, Flood: s.run.flood.ID, At: c.now.Wall.Add(v.Started - c.now.Mono), Trusted: c.now.Trusted,
		}
		back, give := c.back(k, sw.which)
		w.Litres, w.Give = weigh(sw.at-back, give, d, lacked.Normal, fell, v.FullAt-v.Started)
		c.weighed(w, homecoming{at: sw.at, band: give})
		return
	}
}

// Basis says what the litres of a reservoir rest on.
type Basis string

// The bases.
const (
	Weighed  Basis = "weighed"  // by the switch in the last fill
	Noted    Basis = "noted"    // by what a person wrote down since
	Expected Basis = "expected" // what plants use by the file since the last weighing
	Unknown  Basis = "unknown"
)

// Bases lists them.
var Bases = []Basis{Weighed, Noted, Expected, Unknown}

// tank is what is known of the water of one reservoir.
type tank struct {
	Last     Weighing      `json:"last"`          // its Flood is 0 while there is none
	LastName string        `json:"last_name"`     // the bench of Last
	Voided   bool          `json:"voided"`        // Last begins no pair: the reservoir was filled anew, or the file changed
	Judged   bool          `json:"judged"`        // what the flood of Last lost is known already
	Lacked   Drunk         `json:"lacked"`        // what the pots of Last's bench lacked at its start
	Floods   int           `json:"floods"`        // of the reservoir since Last, that of Last included
	Rest     safety.Litres `json:"rest,omitzero"` // what the pots of the others among them lacked, on the hottest days
	Noted    safety.Litres `json:"noted"`         // topped up by the diary since Last

	Litres safety.Litres `json:"litres"` // now, tables empty
	Give   safety.Litres `json:"give"`
	Since  time.Time     `json:"since"` // when it was weighed or noted last; when Unknown, since when nothing is known
	Basis  Basis         `json:"basis"`

	Had   safety.Litres `json:"had"`    // what it held when that was last known, while Basis is Unknown
	HadAt time.Time     `json:"had_at"` // and when; zero where it never was

	Loss    loss          `json:"loss"`
	Before  stretch       `json:"before"`
	Slow    safety.Litres `json:"slow,omitzero"` // what all pairs lost together; see slow.Sum
	Missing Unexplained   `json:"missing"`
	Came    Unexplained   `json:"came"`
	home    homecoming
}

// know sets what is known of a reservoir from now on.
func (c *Controller) know(k int, litres, give safety.Litres, basis Basis) {
	t := &c.tanks[k]
	t.Litres, t.Give, t.Basis, t.Since = max(0, litres), give, basis, c.now.Wall
	c.dirty = true
}

// forget says that nothing is known of a reservoir from now on.
func (c *Controller) forget(k int) {
	if t := &c.tanks[k]; t.Basis != Unknown {
		t.Had, t.HadAt = t.Litres, t.Since
		c.know(k, 0, 0, Unknown)
	}
}

// weighed takes a weighing in: it is held against the one before and told of.
func (c *Controller) weighed(w Weighing, home homecoming) {
	t := &c.tanks[w.Reservoir]
	w.Noted = t.Noted
	c.know(w.Reservoir, w.Litres, w.Give, Weighed)
	t.Since = w.At
	c.pair(&w)
	t.Last, t.LastName, t.Voided, t.Judged, t.Floods, t.Rest, t.Noted = w, c.name(w.Bench), false, false, 0, 0, 0
	t.Lacked = c.benches[w.Bench].run.lacked
	t.home = home
	c.emit(Event{Kind: ReservoirWeighed, Bench: w.Bench, Output: -1, Weighing: w})
}

// floodRan takes into account what a flood of bench b whose pump has stopped
// leaves in its reservoir, by what its pots lacked.
func (c *Controller) floodRan(b int, v *safety.BenchView) {
	k := c.limits(b).Reservoir
	t := &c.tanks[k]
	t.Floods++
	weighed := t.Floods == 1 && t.Last.Bench == b && t.Last.Flood == c.benches[b].run.flood.ID
	contact := v.FullFor
	if v.FullAt != 0 {
		contact += (v.FullAt - v.Started) / 2
	} else {
		contact += (v.Stopped - v.Started) / 2
	}
	lacked := c.thirsty(b).Drunk
	before := lacked.Normal
	if !weighed {
		t.Rest += lacked.Hottest
	}
	c.quenched(b, contact)
	switch {
	case t.Basis == Unknown:
	case v.FullAt == 0 && c.limits(b).Full:
		c.forget(k) // nobody knows where its water went
	case !weighed && (t.Last.Flood == 0 || t.Give > mostGive*c.setup.Limits.Reservoirs[k].Usable):
		c.forget(k) // what was written down is no longer there, and nothing weighs what is
	default:
		since, basis := t.Since, Expected
		if weighed {
			basis = t.Basis
		}
		drunk := before - c.benches[b].thirst.Drunk.Normal
		c.know(k, t.Litres-drunk, t.Give+drunk/2, basis)
		t.Since = since
	}
	if weighed {
		t.home.by = v.Stopped + homeFactor*c.limits(b).Drain/2
	}
}

// ToppedUp takes in what a person wrote down as added to a reservoir at a time;
// below 0 as taken out.
func (c *Controller) ToppedUp(now safety.Now, reservoir int, litres safety.Litres, at time.Time) {
	c.now = now
	if c.late(reservoir, litres, at) {
		return
	}
	t := &c.tanks[reservoir]
	t.Noted += litres
	c.dirty = true
	if t.Basis != Unknown && t.Basis != "" {
		give := safety.Litres(math.Abs(float64(litres))) / 20
		c.know(reservoir, min(t.Litres+litres, c.setup.Limits.Reservoirs[reservoir].Usable), t.Give+give, Noted)
	}
}

// Filled takes in that a person filled a reservoir anew, with so many litres.
func (c *Controller) Filled(now safety.Now, reservoir int, litres safety.Litres) {
	c.now = now
	c.tanks[reservoir].Voided, c.tanks[reservoir].Noted = true, 0
	c.know(reservoir, litres, litres/20, Noted)
}

// resumeTank goes on with what was known of a reservoir. A pair does not outlast
// a file that calls the bench of its weighing otherwise.
func (c *Controller) resumeTank(k int, st State) {
	t, ok := st.Tanks[c.setup.Limits.Reservoirs[k].Name]
	if !ok || t.Basis == "" {
		return
	}
	b := slices.IndexFunc(c.setup.Limits.Benches, func(l safety.BenchLimits) bool { return l.Name == t.LastName && l.Reservoir == k })
	t.home = homecoming{}
	t.Last.Reservoir, t.Last.Bench = k, max(b, 0)
	t.Voided = t.Voided || b < 0 || c.unseen(k, &st)
	c.tanks[k] = t
}

// unseen reports whether a flood of reservoir k may have run of which the state says
// nothing: one that was under way or waited when it was stored, or that came due
// since. Storage may have taken nothing of it, and its plants drank all the same.
func (c *Controller) unseen(k int, st *State) bool {
	of := func(b int) bool { return slices.Contains(c.drawing[k], b) }
	if slices.ContainsFunc(st.Open, func(f Flood) bool { return of(f.Bench) }) {
		return true
	}
	from := c.setup.Calendar.Civil(st.Wall)
	return slices.ContainsFunc(c.drawing[k], func(b int) bool {
		p, ok := c.setup.Calendar.After(b, from)
		return ok && !p.Due.After(c.now.Wall)
	})
}
