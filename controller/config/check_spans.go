package config

import (
	"slices"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
)

// oneInTwenty of the benches that are as their file says may lack what is asked of them.
const oneInTwenty = 0.05

// checkSpans holds the bench to what it may be within what its file cannot tell.
func (r *reader) checkSpans(s *Site, i int) {
	b, sh := &s.Benches[i], &s.sheets[i]
	head := b.path(".supply.max_head")
	if len(b.Supply.Curve) > 0 {
		head = b.path(".supply.curve")
	}
	if sh.Weak > oneInTwenty && b.Cycle.Fill == 0 {
		r.errorf(head, "%s: of 100 pumps with that label about %.0f do not lift the water to FULL, %s above the reservoir by then: choose a pump with more head or lower the table; or time a fill and write it as cycle.fill",
			r.units.Head(b.Supply.MaxHead), 100*sh.Weak, r.units.Head(rounded(b.Supply.Lift+fillsTo(b)+sh.Drawdown)))
		return
	}
	r.checkWorstPeak(b, sh)
	r.checkGulping(b, sh)
}

func fillsTo(b *Bench) quantity.Metres {
	if b.Full != nil {
		return b.Full.At
	}
	return b.Standpipe.Crest
}

// checkWorstPeak looks how deep a flood stands where the standpipe carries little and
// the pump brings much.
func (r *reader) checkWorstPeak(b *Bench, sh *sheet.Sheet) {
	span, known := sh.Spans["load_kg_per_m2"]
	peak := quantity.Metres(span[1] / 1000)
	if !known || b.Standpipe.Crest+sh.OverflowHead >= b.Table.Rim {
		return
	}
	remedy := "fit a wider standpipe or a smaller pump"
	switch high := b.path(".high_switch.at"); {
	case peak >= b.Table.Rim && b.High == nil:
		r.errorf(b.path(".standpipe.bore"), "%s: with %s to carry an ordinary flood may stand %s deep, and the rim is at %s: %s", r.units.Mark(b.Standpipe.Bore), r.units.Flow(sh.Pumped),
			r.units.Depth(peak), r.units.Mark(b.Table.Rim), remedy)
	case b.High != nil && b.High.At <= peak && !r.warned(high) && r.sound(high):
		r.warnf(high, "%s: an ordinary flood may stand as deep as %s, since a standpipe may carry a third less than it should: HIGH might stop sound floods; set it higher, or %s",
			r.units.Mark(b.High.At), r.units.Depth(peak), remedy)
	}
}

// bores are those of pipes that one can buy, by the units in which they are sold
// (common practice, no source).
var bores = map[quantity.Units][]quantity.Metres{
	quantity.Metric: inEach(0.001, 20, 25, 32, 40, 50, 63, 75, 90, 110, 125, 160),
	quantity.US:     inEach(quantity.Inch.Size, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6),
}

func inEach(unit quantity.Metres, counts ...float64) (all []quantity.Metres) {
	for _, n := range counts {
		all = append(all, quantity.Metres(n)*unit)
	}
	return all
}

// checkGulping warns of a standpipe that takes more water than air can go down beside.
func (r *reader) checkGulping(b *Bench, sh *sheet.Sheet) {
	most := sheet.Venting(b.Standpipe.Bore)
	if sh.Pumped <= most || !r.sound(b.path(".standpipe"), b.path(".supply")) {
		return
	}
	remedy := "take a smaller pump"
	sold := bores[r.units]
	if wide := slices.IndexFunc(sold, func(bore quantity.Metres) bool { return sheet.Venting(bore) >= sh.Pumped }); wide >= 0 {
		remedy = "take " + r.units.Mark(sold[wide]) + " or a smaller pump"
	}
	r.warnf(b.path(".standpipe.bore"), "%s: a standpipe of that bore gulps above %s, and the pump brings %s: the depth of a flood goes up and down; %s",
		r.units.Mark(b.Standpipe.Bore), r.units.Flow(most), r.units.Flow(sh.Pumped), remedy)
}

const (
	// halfOfPot is the most of a pot's height that floods of usual practice wet: a
	// quarter to a third, never over a half (common practice, no source).
	halfOfPot = 0.5

	// drawsUp is how high a substrate for pots draws water: fine ones about 150 mm
	// (textbooks of horticulture).
	drawsUp = 150 * millimetre
)

// checkDepth compares the depth of a flood with the pots of batch i that it is for.
func (r *reader) checkDepth(s *Site, i int) {
	batch := &s.Batches[i]
	if batch.Bench < 0 || !batch.Pots.Known() || !r.sound("batches", s.Benches[batch.Bench].path("")) {
		return
	}
	b, sh := &s.Benches[batch.Bench], &s.sheets[batch.Bench]
	crest, height := b.Standpipe.Crest, batch.Pots.Height()
	path := b.path(".standpipe.crest")
	say := func(tell func(path, format string, args ...any), text string) {
		tell(path, "%s: the pots of %s are %s high: %s", r.units.Mark(crest), batch.Name, r.units.Mark(height), text)
	}
	switch {
	case sh.VFlood == 0:
	case crest+sh.OverflowHead >= height:
		say(r.errorf, "a flood goes over their tops; lower the crest, or stand taller pots on the bench")
	case crest > halfOfPot*height:
		say(r.warnf, "a flood deeper than half of them keeps roots without air; a quarter to a third is usual")
	case height-crest > drawsUp:
		say(r.warnf, "a substrate draws water up "+r.units.Mark(drawsUp)+" at most, so their upper roots stay dry; raise the crest")
	}
	if sh.VFlood > 0 && crest < height && batch.Pots.Lifts(crest) > batch.Pots.Weighs(sheet.Driest) {
		say(r.warnf, "when they are dry they weigh less than the water that they keep out, so they float and tip; lower the crest, or water them before they are so light")
	}
}
