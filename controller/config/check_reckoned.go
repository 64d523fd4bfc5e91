package config

import (
	"fmt"
	"math"
	"time"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// By how much a switch may turn beside the height that the file gives it: the
// band of a plain float is 2 mm and more, a table lies 1 mm out of level, and
// jets make waves (common practice, no source).
const (
	switchAtLeast = 2 * millimetre // nearer than this the two heights cannot be told apart
	switchWanted  = 3 * millimetre
	highWanted    = 5 * millimetre // HIGH never gets a test in normal life
	puddle        = 5 * millimetre // the deepest that stands on a table that has drained
)

// rounded keeps a tenth of a millimetre: a difference of two lengths has no more.
func rounded(m quantity.Metres) quantity.Metres {
	return quantity.Metres(math.Round(float64(m)*1e4) / 1e4)
}

// checkMargins looks whether each switch stands clear of what it has to tell
// apart, with the float, the level of the table and the waves against it.
func (r *reader) checkMargins(b *Bench) {
	if b.Full != nil && r.sound(b.path(".full_switch"), b.path(".standpipe")) {
		r.clear(b.path(".full_switch.at"), b.Full.At, b.Standpipe.Crest-b.Full.At, switchWanted,
			fmt.Sprintf("below the crest at %s", r.units.Mark(b.Standpipe.Crest)), "a flood might never make it", "set it "+r.belowCrest()+" below the crest")
		switch {
		case !r.sound(b.path(".full_switch")):
		case b.Full.At < puddle:
			r.errorf(b.path(".full_switch.at"), "%s: a puddle on the floor of the table would make FULL: set it %s below the crest at %s", r.units.Mark(b.Full.At), r.belowCrest(), r.units.Mark(b.Standpipe.Crest))
		case b.Full.At < b.Standpipe.Crest/2:
			r.warnf(b.path(".full_switch.at"), "%s: FULL proves less than half of the flood, which stands to %s: set it %s below the crest", r.units.Mark(b.Full.At), r.units.Mark(b.Standpipe.Crest), r.belowCrest())
		}
	}
	if b.Empty != nil && b.Full != nil && r.sound(b.path(".empty_switch"), b.path(".full_switch")) {
		r.clear(b.path(".empty_switch.at"), b.Empty.At, b.Full.At-b.Empty.At, switchWanted,
			fmt.Sprintf("below FULL at %s", r.units.Mark(b.Full.At)), "one could not be told from the other", "set it on the floor of the table")
	}
	if b.High != nil && r.sound(b.path(".high_switch"), b.path(".table")) {
		r.clear(b.path(".high_switch.at"), b.High.At, b.Table.Rim-b.High.At, highWanted,
			fmt.Sprintf("below the rim at %s", r.units.Mark(b.Table.Rim)), "water might spill at the low corner before it acts", "set it lower")
	}
}

// clear refuses a switch that stands nearer to what it has to tell apart than
// it can, and warns of one that stands near. What stands on the wrong side was
// refused before.
func (r *reader) clear(path string, at, by, wanted quantity.Metres, of, or, remedy string) {
	by = rounded(by)
	text := fmt.Sprintf("%s: that is %s %s, and a float turns %s beside its mark and a table lies %s out of level: %s; %s",
		r.units.Mark(at), r.units.Depth(by), of, r.units.Depth(2*millimetre), r.units.Depth(millimetre), or, remedy)
	switch {
	case by <= 0:
	case by < switchAtLeast:
		r.errorf(path, "%s", text)
	case by < wanted:
		r.warnf(path, "%s", text)
	}
}

// checkReckoned holds the file's figures of bench i to what the sheet makes of
// the others.
func (r *reader) checkReckoned(s *Site, i int) {
	b, sh := &s.Benches[i], &s.sheets[i]
	if b.High != nil && r.sound(b.path(".high_switch")) {
		peak := b.Standpipe.Crest + sh.OverflowHead
		r.clear(b.path(".high_switch.at"), b.High.At, b.High.At-peak, highWanted,
			fmt.Sprintf("above an ordinary flood, which stands %s deep", r.units.Depth(peak)), "it might stop sound floods", "set it higher, or fit a wider standpipe")
	}
	if b.Cycle.Fill == 0 && r.sound(b.path(".table"), b.path(".supply"), b.path(".cycle")) {
		r.reckonedFill(b, sh)
	}
	if b.Cycle.Fall+b.Cycle.Drain > 0 && r.sound(b.path(".cycle")) {
		r.checkMeasured(s, i)
	}
}

// reckonedFill warns of a pump that is out of all proportion to its table.
func (r *reader) reckonedFill(b *Bench, sh *sheet.Sheet) {
	fill, than := quantity.Duration(sh.Fill.Round(time.Second)), "large"
	switch {
	case sh.Fill > time.Duration(fills.high):
		than = "weak"
	case sh.Fill >= time.Duration(fills.low):
		return
	}
	r.warnf(b.path(".supply.max_flow"), "%s: the table would fill in %s, and %s to %s is usual: the pump is too %s for it, or a figure of supply or table is mistyped",
		r.units.Flow(b.Supply.MaxFlow), fill, fills.say(r.units, fills.low), fills.say(r.units, fills.high), than)
}

// checkMeasured compares what was measured with what the other figures come to.
func (r *reader) checkMeasured(s *Site, i int) {
	b := &s.Benches[i]
	plain := s.bench(i)
	plain.Cycle = sheet.Cycle{}
	made, err := sheet.New(plain)
	if err != nil {
		return // what was measured is all that is known, and the sheet's doubts say so
	}
	r.measured(b.path(".cycle.fall"), "the water falls below FULL", b.Cycle.Fall, made.Fall)
	r.measured(b.path(".cycle.drain"), "the table drains", b.Cycle.Drain, made.Drain)
	if c := b.Cycle; c.Fall > 0 && c.Drain > 0 && c.Drain <= c.Fall && r.sound(b.path(".cycle")) {
		r.errorf(b.path(".cycle.drain"), "%s: the table cannot be drained before FULL is dry, which takes %s: both are counted from the stop of the pump",
			quantity.Duration(c.Drain), quantity.Duration(c.Fall))
	}
}

// How far what is measured may lie from what is reckoned: entrances, fittings
// and levels move a time by half or twice; faster than a quarter no water falls
// through that way, and slower than six times it is stopped up.
const (
	oddBy     = 2.5
	never     = 4
	stoppedUp = 6
)

func (r *reader) measured(path, what string, is, reckoned time.Duration) {
	if is == 0 || reckoned <= 0 || !r.sound(path) {
		return
	}
	times := float64(is) / float64(reckoned)
	b := spans(what, 1, time.Duration(float64(reckoned)/oddBy), time.Duration(float64(reckoned)*oddBy), math.MaxInt64)
	text := fmt.Sprintf("%s: by the figures of table, drain and lift %s in %s%s", quantity.Duration(is), what, quantity.Duration(reckoned), b.meant(r.units, float64(is)))
	late := is-reckoned > 10*time.Minute
	switch {
	case times < 1.0/never || times > stoppedUp && late:
		r.errorf(path, "%s", then(text, "Measure it again, or put those figures right"))
	case times < 1/oddBy || times > oddBy && is-reckoned > time.Minute:
		r.warnf(path, "%s", then(text, "Measure it again, or look at those figures"))
	}
}

// floodsHeld is how many floods of its benches a reservoir holds at most, as a
// rule: a solution does not stay good for longer.
const floodsHeld = 15

// checkTank compares what a reservoir holds with what its benches take.
func (r *reader) checkTank(s *Site, i int) {
	res := &s.Reservoirs[i]
	var flood quantity.Litres
	for b := range s.Benches {
		if s.Benches[b].Reservoir == i {
			flood += s.sheets[b].VFlood
		}
	}
	if most := floodsHeld * flood; flood > 0 && res.Usable > most && r.sound(res.path(""), "benches", "batches") {
		r.oddf(res.path(".usable"), "%s: one flood of its benches takes %s, so that is water for months%s", r.units.Volume(res.Usable), r.units.Volume(flood),
			volumes("", 0, flood, most, most).meant(r.units, float64(res.Usable)))
	}
}
