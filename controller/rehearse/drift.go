package rehearse

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/drift"
	"benchtide/controller/quantity"
)

// Slow is a slow change of a bench that the program found.
type Slow struct {
	At, Bench string
	Cause     drift.Cause
}

// found notes a slow change and its message.
func (d *logbook) found(f drift.Finding, m controller.Message) {
	d.slow = append(d.slow, Slow{d.now(), d.name(m.Bench), f.Cause})
	d.message(m)
}

// Drift returns what the watch on slow changes is corrected by, bench by bench.
func Drift(site *config.Site) []drift.Bench {
	var all []drift.Bench
	for i := range site.Benches {
		b, s := &site.Benches[i], site.Sheet(i)
		area := float64(b.Table.Length * b.Table.Width)
		d := drift.Bench{
			Fills: drift.Litres(float64(s.Flow) * s.Fill.Hours()),
			Falls: drift.Litres(1000 * area * float64(b.Standpipe.Crest+s.OverflowHead-full(b))),
			Area:  area,
			Empty: b.Empty != nil,
		}
		if h := site.Held(i); b.Full != nil {
			d.Windows = drift.Windows{FillFrom: h.FillFrom, FillBy: h.FillBy, FallBy: h.FallBy, DrainBy: h.DrainBy}
		}
		for _, batch := range site.Batches {
			if batch.Bench == i {
				d.Batches = append(d.Batches, driftBatch(&batch, site.Zone))
			}
		}
		all = append(all, d)
	}
	return all
}

func driftBatch(b *config.Batch, zone *time.Location) drift.Batch {
	d := drift.Batch{
		Since: b.Transplanted.At(0).In(zone),
		Holds: drift.Litres(float64(b.Pots.Count) * float64(b.Pots.Volume) * float64(b.Pots.Capacity)),
	}
	if b.Closed != 0 {
		d.Until = b.Closed.AddDays(1).At(0).In(zone)
	}
	return d
}

// full is the height at which a fill ends.
func full(b *config.Bench) quantity.Metres {
	if b.Full != nil {
		return b.Full.At
	}
	return b.Standpipe.Crest
}
