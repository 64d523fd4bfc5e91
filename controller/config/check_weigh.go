package config

import (
	"fmt"
	"math"

	"benchtide/controller/quantity"
)

// Weighing is whether a bench weighs its reservoir: see controller/weigh.go.
type Weighing struct {
	Weighs   bool             // each fill from the mark does
	From, To quantity.Litres  // what the reservoir holds when its fills weigh it; 0 where none does
	At       *quantity.Litres // where a switch would be passed by each fill; nil where one is, and where none could
	Words    string
}

// passedShare of a fill below the mark is where a switch is passed by nearly every
// fill, also by those that begin a little lower (99.9 % of the floods of simulated
// sites).
const passedShare = 0.7

// lowPassed is the share below the mark at which a low switch, which may stand no
// lower than a flood needs, is passed by the floods until about a third of a fill is
// used (judgement, no source).
const lowPassed = 0.35

// Weighing says whether bench i weighs its reservoir, and where a switch would have
// to be for that.
func (s *Site) Weighing(i int) Weighing {
	b := &s.Benches[i]
	res, fill := &s.Reservoirs[b.Reservoir], s.leastFill(i)
	switch {
	case b.Full == nil:
		return Weighing{Words: "nothing shows when the table is full: fit a full_switch"}
	case fill <= 0:
		return Weighing{Words: "what a fill takes cannot be reckoned"}
	}
	w := Weighing{Words: "there is no switch that its fills pass"}
	for _, sw := range []struct {
		key string
		of  *Switch
		at  quantity.Litres
	}{{"level_switch", res.Level, res.LevelAt}, {"low_switch", res.Low, res.LowAt}} {
		if sw.of == nil {
			continue
		}
		from, to := sw.at, min(sw.at+fill, res.Usable)
		if to == res.Usable && from < to {
			return Weighing{Weighs: true, From: from, To: to, Words: fmt.Sprintf("each fill passes the %s while it holds %s", sw.key, s.Units.Volumes(from, "to", to))}
		}
		if w.To == 0 {
			w.From, w.To = from, to
			w.Words = fmt.Sprintf("a fill from the mark takes %s and ends above the %s at %s: only from %s down does it weigh", s.Units.Volume(fill), sw.key, s.Units.Volume(sw.at), s.Units.Volume(to))
		}
	}
	if at, key := s.wouldWeigh(b.Reservoir); at > res.Keep {
		w.At = &at
		w.Words += fmt.Sprintf("; it would with %s at about %s", key, s.Units.Volume(at))
	}
	return w
}

// wouldWeigh is which switch of a reservoir every fill would pass, and where.
func (s *Site) wouldWeigh(reservoir int) (at quantity.Litres, key string) {
	res, least := &s.Reservoirs[reservoir], s.leastFillOf(reservoir)
	at, key = quantity.Litres(math.Round(float64(res.Usable-passedShare*least))), "a level_switch, which weighs and forbids nothing,"
	switch low := quantity.Litres(math.Ceil(float64(s.lowLeast(reservoir)))); {
	case res.Level != nil:
		key = "the level_switch"
	case res.Low == nil && max(at, low) <= res.Usable-lowPassed*least:
		at, key = max(at, low), "a low_switch"
	}
	return at, key
}

func (w *Weighing) short() string {
	switch {
	case w.Weighs:
		return "yes"
	case w.To > 0:
		return "in part"
	}
	return "no"
}

// leastFill is the least that a fill of bench i takes until FULL, with the pots
// that ever stand on it; 0 where the sheet cannot tell.
func (s *Site) leastFill(i int) (least quantity.Litres) {
	sets := s.tenants(i)
	if len(sets) == 0 {
		sets = append(sets, nil)
	}
	for _, pots := range sets {
		d, err := s.Draw(i, pots)
		if err != nil {
			return 0
		}
		if least == 0 || d.ToFull < least {
			least = d.ToFull
		}
	}
	return least
}

// leastFillOf is the least that a fill of any bench of a reservoir takes.
func (s *Site) leastFillOf(reservoir int) (least quantity.Litres) {
	for i := range s.Benches {
		if s.Benches[i].Reservoir != reservoir || s.Benches[i].Full == nil {
			continue
		}
		if fill := s.leastFill(i); fill > 0 && (least == 0 || fill < least) {
			least = fill
		}
	}
	return least
}

// lowLeast is the least at which a low switch of a reservoir may be set.
func (s *Site) lowLeast(reservoir int) (least quantity.Litres) {
	for i := range s.Benches {
		if s.Benches[i].Reservoir == reservoir {
			least = max(least, roomForLeaks*s.sheets[i].VFlood+s.Reservoirs[reservoir].Keep)
		}
	}
	return least
}
